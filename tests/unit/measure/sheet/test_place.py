"""Where a sheet may lie in a picture, and which strange markers and prints are refused."""

from __future__ import annotations

import numpy as np
import pytest

from greasecheck.errors import SheetError
from greasecheck.measure.sheet.checks import (
    LARGEST_RESIDUAL_MM,
    refuse_second_sheet,
    refuse_stretched_print,
    refuse_unfit_place,
    refuse_unknown_version,
)
from greasecheck.measure.sheet.markers import SeenMarker
from greasecheck.measure.sheet.pose import Attitude, Pose, attitude
from greasecheck.model import Lens
from greasecheck.reference import known_cards, known_sheets

SHEET, CARD = known_sheets()[-1], known_cards()[-1]
SIZE_PX = (4000, 3000)
LENS = Lens(matrix=np.eye(3), distortion=np.zeros(5), width_px=4000, height_px=3000)
VERSION = 9  # kept for versions to come


def pose(
    x_px: float = 800.0,
    y_px: float = 700.0,
    px_per_mm: float = 8.0,
    *,
    mirrored: bool = False,
    residual_mm: float = 0.1,
) -> Pose:
    """Return a sheet seen squarely, its upper left corner at a place."""
    across = -px_per_mm if mirrored else px_per_mm
    homography = np.array([[across, 0, x_px], [0, px_per_mm, y_px], [0, 0, 1.0]])
    return Pose(
        homography=homography,
        inverse=np.linalg.inv(homography),
        markers=(),
        residual_px=0.3,
        residual_mm=residual_mm,
    )


def marker(number: int, x_px: float, y_px: float) -> SeenMarker:
    corners = np.array([[-5.0, -5], [5, -5], [5, 5], [-5, 5]]) + np.array([x_px, y_px])
    return SeenMarker(id=number, corners_px=corners)


def test_one_marker_seen_twice_is_a_slip_and_two_are_another_sheet() -> None:
    first, second, *_ = SHEET.markers
    seen = [marker(one.id, 100.0 * one.id, 50) for one in SHEET.markers]
    again = marker(first.id, 900, 900)
    refuse_second_sheet([*seen, again], SHEET)
    with pytest.raises(SheetError, match="two reference sheets"):
        refuse_second_sheet([*seen, again, marker(second.id, 950, 900)], SHEET)


@pytest.mark.parametrize("mirrored", [False, True])
def test_a_strange_version_marker_counts_on_the_sheet_alone(mirrored: bool) -> None:
    seen = pose(3500.0 if mirrored else 800.0, mirrored=mirrored)
    inside, outside = marker(VERSION, 1600, 1200), marker(VERSION, 3900, 2950)
    refuse_unknown_version([outside], seen, SHEET, None)
    with pytest.raises(SheetError, match=f"version marker is number {VERSION}"):
        refuse_unknown_version([outside, inside], seen, SHEET, None)


@pytest.mark.parametrize(
    ("x_px", "y_px", "cut"),
    [
        (800, 700, False),
        (-7, 700, False),  # a mm may lie outside
        (-12, 700, True),
        (800, -12, True),
        (4000 - 8 * SHEET.width_mm, 700, False),
        (4012 - 8 * SHEET.width_mm, 700, True),
        (800, 3012 - 8 * SHEET.height_mm, True),
    ],
)
def test_a_sheet_that_runs_out_of_the_picture_on_any_side_is_cut(
    x_px: float, y_px: float, cut: bool
) -> None:
    seen = pose(x_px, y_px)
    if not cut:
        refuse_unfit_place(seen, SHEET, None, SIZE_PX)
        return
    with pytest.raises(SheetError, match="cut off"):
        refuse_unfit_place(seen, SHEET, None, SIZE_PX)


def test_a_card_may_be_smaller_in_the_picture_than_a_sheet() -> None:
    """A tenth of the width: enough for a card beside a large skull, too little for a sheet."""
    for geometry, fits in ((CARD, True), (SHEET, False)):
        px_per_mm = 0.1 * SIZE_PX[0] / max(geometry.width_mm, geometry.height_mm)
        seen = pose(1000, 1000, px_per_mm)
        if fits:
            refuse_unfit_place(seen, geometry, None, SIZE_PX)
        else:
            with pytest.raises(SheetError, match="spans 10%"):
                refuse_unfit_place(seen, geometry, None, SIZE_PX)


def test_markers_off_their_places_are_a_bent_sheet() -> None:
    refuse_unfit_place(pose(residual_mm=0.9 * LARGEST_RESIDUAL_MM), SHEET, None, SIZE_PX)
    with pytest.raises(SheetError, match="bent"):
        refuse_unfit_place(pose(residual_mm=1.1 * LARGEST_RESIDUAL_MM), SHEET, None, SIZE_PX)


@pytest.mark.parametrize(
    ("stretch", "lens", "refused"),
    [(0.02, None, False), (0.02, LENS, True), (0.01, LENS, False), (0.04, None, True)],
)
def test_a_known_lens_leaves_less_to_stretching(
    stretch: float, lens: Lens | None, refused: bool
) -> None:
    found = Attitude(tilt_deg=5.0, stretch=stretch)
    if not refused:
        refuse_stretched_print(found, lens)
        return
    with pytest.raises(SheetError, match="out of proportion"):
        refuse_stretched_print(found, lens)


@pytest.mark.parametrize("slant", [0.0, 0.05, -0.05])
def test_a_slanted_print_is_stretched_as_much_as_a_wide_one(slant: float) -> None:
    """Seen squarely; shear as a share of the height, or as much more width."""
    sheared = pose().homography @ np.array([[1, slant, 0], [0, 1, 0], [0, 0, 1]])
    wide = pose().homography @ np.diag([1 + abs(slant), 1, 1])
    for homography in (sheared, wide):
        assert attitude(homography, SIZE_PX, None).stretch == pytest.approx(abs(slant), abs=0.004)
