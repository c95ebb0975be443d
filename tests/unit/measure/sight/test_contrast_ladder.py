"""The contrast ladder and the glass field, on drawn sheets whose fields were changed."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from greasecheck.measure.colour.model import fit_colour
from greasecheck.measure.sheet.find import find_sheet
from greasecheck.measure.sight.view import SightView, look_at_sight
from greasecheck.model import Box
from greasecheck.print.sheet import draw_sheet_png
from greasecheck.reference import known_sheets
from greasecheck.reference.patches.values import nominal_values
from greasecheck.reference.srgb import linear_of_srgb, srgb_of_linear
from tests.synthetic.jar_scene import as_photo

SHEET = known_sheets()[-1]
DPI, MARGIN_PX = 127.0, 60
PX_PER_MM = DPI / 25.4
Light = NDArray[np.float64]
Change = Callable[[Light, Box], Light]


def seen(boxes: tuple[Box, ...] = (), change: Change | None = None) -> SightView:
    """Photograph the sheet with the light in some boxes changed."""
    values = nominal_values(SHEET)
    drawn = linear_of_srgb(draw_sheet_png(SHEET, values, DPI) / 255) * 0.965 + 0.035
    for box in boxes:
        assert change is not None
        rows = slice(round(box.y_mm * PX_PER_MM), round((box.y_mm + box.height_mm) * PX_PER_MM))
        columns = slice(round(box.x_mm * PX_PER_MM), round((box.x_mm + box.width_mm) * PX_PER_MM))
        drawn[rows, columns] = change(drawn[rows, columns], box)
    wide = np.pad(drawn, ((MARGIN_PX,) * 2, (MARGIN_PX,) * 2, (0, 0)), constant_values=0.2)
    noise = np.random.default_rng(1).normal(0, 0.003, wide.shape)
    code = srgb_of_linear(np.clip(wide * 0.8 + noise, 0, 1))
    photo = as_photo(np.rint(code * 255).astype(np.uint8))
    placement = find_sheet(photo)
    return look_at_sight(photo, placement, fit_colour(photo, placement, values))


def stretched(factor: float) -> Change:
    return lambda light, _: light.mean() + (light - light.mean()) * factor


def cells(names: tuple[str, ...], part: str) -> tuple[Box, ...]:
    assert SHEET.ladder is not None
    return tuple(getattr(cell, part) for cell in SHEET.ladder.cells if cell.name in names)


FAINT = ("L3", "L4", "L5", "L6")


def test_a_plain_photo_shows_no_gain_and_clear_glass() -> None:
    view = seen()
    assert view.ladder is not None
    assert view.glass is not None
    assert abs(view.ladder.faint_gain) < 0.03
    assert abs(view.ladder.fine_loss) < 0.03
    assert abs(view.ladder.dark_lift) < 0.02
    assert view.glass.modulation == pytest.approx(1.0, abs=0.02)


def test_lifted_faint_contrast_is_sensed() -> None:
    view = seen((*cells(FAINT, "fine"), *cells(FAINT, "coarse")), stretched(1.2))
    assert view.ladder is not None
    assert view.ladder.faint_gain == pytest.approx(np.log(1.2), abs=0.04)
    assert abs(view.ladder.fine_loss) < 0.04


def test_fine_faint_detail_that_is_smoothed_away_is_sensed() -> None:
    view = seen(cells(FAINT, "fine"), stretched(0.75))
    assert view.ladder is not None
    assert view.ladder.fine_loss == pytest.approx(-np.log(0.75), abs=0.05)


def test_lifted_dark_areas_are_sensed() -> None:
    view = seen(cells(("L3",), "box"), lambda light, _: light * 1.1)
    assert view.ladder is not None
    assert view.ladder.dark_lift == pytest.approx(np.log(1.1), abs=0.02)


@pytest.mark.parametrize("veil", [0.05, 0.15])
def test_a_veil_on_the_glass_lowers_its_modulation(veil: float) -> None:
    assert SHEET.sight.glass is not None
    view = seen((SHEET.sight.glass,), lambda light, _: light + veil)
    assert view.glass is not None
    expected = (1 - 0.035) / (1 + 0.035 + 2 * veil) / ((1 - 0.035) / (1 + 0.035))
    assert view.glass.modulation == pytest.approx(expected, abs=0.02)
