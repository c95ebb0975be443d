from dataclasses import replace

import pytest

from greasecheck.errors import DataFileError
from greasecheck.model import Box, PatchValues, SheetGeometry
from greasecheck.print.layout import sheet_drawing
from greasecheck.print.shapes import Cells, Drawing, Shape, Text, bounds
from greasecheck.reference import known_sheets
from greasecheck.reference.patches.values import nominal_values

READABLE_MM = 2.0  # height of capitals readable at arm's length; common practice, no source


@pytest.fixture(name="geometry", params=known_sheets(), ids=lambda sheet: f"v{sheet.version}")
def fixture_geometry(request: pytest.FixtureRequest) -> SheetGeometry:
    sheet: SheetGeometry = request.param
    return sheet


@pytest.fixture(name="drawing")
def fixture_drawing(geometry: SheetGeometry) -> Drawing:
    return sheet_drawing(geometry, nominal_values(geometry))


def overlaps(one: Box, other: Box) -> bool:
    return (
        one.x_mm < other.x_mm + other.width_mm
        and other.x_mm < one.x_mm + one.width_mm
        and one.y_mm < other.y_mm + other.height_mm
        and other.y_mm < one.y_mm + one.height_mm
    )


def intruders(drawing: Drawing, zone: Box, margin_mm: float) -> list[Shape]:
    """Shapes that come within the margin of a zone, other than the zone's own."""
    kept = zone.inset(-margin_mm)
    return [s for s in drawing.shapes if bounds(s) != zone and overlaps(bounds(s), kept)]


def sight_fields(geometry: SheetGeometry) -> tuple[Box, ...]:
    sight = geometry.sight
    return sight.wet_fine, sight.wet_coarse, sight.dry_fine, sight.dry_coarse


def test_paper_windows_stay_bare(geometry: SheetGeometry, drawing: Drawing) -> None:
    for window in geometry.paper_windows:
        assert intruders(drawing, window, 0.0) == []


def test_patches_keep_their_distance(geometry: SheetGeometry, drawing: Drawing) -> None:
    for box in geometry.patches.values():
        near = intruders(drawing, box, 1.9)
        assert near == []


def test_sight_fields_keep_their_distance(geometry: SheetGeometry, drawing: Drawing) -> None:
    for field in sight_fields(geometry):
        assert intruders(drawing, field, 1.5) == []


def test_words_keep_off_patches_fields_and_markers(
    geometry: SheetGeometry, drawing: Drawing
) -> None:
    words = [shape for shape in drawing.shapes if isinstance(shape, Text)]
    only_words = replace(drawing, shapes=tuple(words))
    for box in (*geometry.patches.values(), *sight_fields(geometry)):
        assert intruders(only_words, box, 2.0) == []
    for marker in geometry.markers:
        assert intruders(only_words, marker.box, 3.0) == []
    assert len(words) == len(geometry.notes) > 0


def test_markers_have_a_quiet_zone(geometry: SheetGeometry, drawing: Drawing) -> None:
    for marker in geometry.markers:
        assert intruders(drawing, marker.box, 3.0) == []


def test_all_ink_stays_within_the_printed_area(geometry: SheetGeometry, drawing: Drawing) -> None:
    for shape in drawing.shapes:
        box = bounds(shape)
        assert box.x_mm >= 0
        assert box.y_mm >= 0
        assert box.x_mm + box.width_mm <= geometry.width_mm
        assert box.y_mm + box.height_mm <= geometry.height_mm


def test_words_do_not_touch_each_other_and_are_legible(drawing: Drawing) -> None:
    words = [shape for shape in drawing.shapes if isinstance(shape, Text)]
    for text in words:
        assert 0.7 * text.size_mm >= READABLE_MM
        others = replace(drawing, shapes=tuple(other for other in words if other is not text))
        assert intruders(others, bounds(text), 0.0) == []


def test_patches_are_exactly_the_print_colours(geometry: SheetGeometry, drawing: Drawing) -> None:
    values = nominal_values(geometry)
    assert values.rgb is not None
    inked = {bounds(shape): shape.rgb for shape in drawing.shapes if isinstance(shape, Cells)}
    for name, box in geometry.patches.items():
        assert inked[box] == tuple(values.rgb[values.names.index(name)])


def test_bars_start_black_and_alternate(geometry: SheetGeometry, drawing: Drawing) -> None:
    cells = {bounds(shape): shape for shape in drawing.shapes if isinstance(shape, Cells)}
    for field in sight_fields(geometry):
        bars = cells[field].inked[0]
        assert bars[0]
        assert (bars[1:] != bars[:-1]).all()
    assert cells[geometry.sight.wet_fine].inked.shape[1] * geometry.sight.fine_bar_mm == 48


def test_measured_values_without_print_colours_cannot_be_printed(
    geometry: SheetGeometry,
) -> None:
    values: PatchValues = replace(nominal_values(geometry), rgb=None)
    with pytest.raises(DataFileError, match="no print colours"):
        sheet_drawing(geometry, values)
