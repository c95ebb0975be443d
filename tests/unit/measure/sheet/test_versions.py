"""Each version of the sheet is found as itself, with its version marker and without."""

import numpy as np
import pytest

from greasecheck.errors import SheetError, WaterError
from greasecheck.measure.colour.model import fit_colour
from greasecheck.measure.sheet.find import find_sheet
from greasecheck.measure.water.attenuation import Jar, measure_water
from greasecheck.measure.water.reference import unknown_jar
from greasecheck.model import Photo, SheetGeometry
from greasecheck.print.sheet import draw_sheet_png
from greasecheck.reference import known_cards, known_sheets
from greasecheck.reference.patches.values import nominal_values
from tests.synthetic.views import photo_of

DPI = 101.6
PX_PER_MM = DPI / 25.4


def picture(
    geometry: SheetGeometry, *, version_marker: bool = True, mirrored: bool = False
) -> Photo:
    pixels = draw_sheet_png(geometry, nominal_values(geometry), DPI)
    for marker in geometry.markers:
        if not (marker.corner or version_marker):
            left, top = round(marker.box.x_mm * PX_PER_MM), round(marker.box.y_mm * PX_PER_MM)
            side = round(marker.box.width_mm * PX_PER_MM)
            pixels[top : top + side, left : left + side] = 200
    dimmed = (pixels[:, ::-1] if mirrored else pixels) * 0.9
    padded = np.pad(dimmed.astype(np.uint8), ((60, 60), (60, 60), (0, 0)), constant_values=90)
    return photo_of(padded)


@pytest.mark.parametrize("geometry", known_sheets(), ids=lambda sheet: f"v{sheet.version}")
@pytest.mark.parametrize("version_marker", [True, False])
def test_each_version_is_found_as_itself(geometry: SheetGeometry, version_marker: bool) -> None:
    found = find_sheet(picture(geometry, version_marker=version_marker))
    assert found.geometry is geometry
    assert found.pixels_per_mm == pytest.approx(PX_PER_MM, rel=1e-3)


def test_a_card_in_a_mirror_is_told_as_such() -> None:
    with pytest.raises(SheetError, match="the picture is mirrored"):
        find_sheet(picture(known_cards()[-1], mirrored=True))


def test_a_reference_of_another_version_asks_for_a_new_one() -> None:
    newest = known_sheets()[-1]
    photo = picture(newest)
    placement = find_sheet(photo)
    colour = fit_colour(photo, placement, nominal_values(newest))
    old = Jar(clear=unknown_jar(60.0, newest.version - 1))
    with pytest.raises(WaterError, match="made with sheet version 1, this photo shows version 2"):
        measure_water(photo, placement, colour, old)
