"""Refuses a sheet that cannot be trusted: each check raises with what to do."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import SheetError
from greasecheck.measure.sheet.lens import project
from greasecheck.measure.sheet.markers import detect_quickly
from greasecheck.measure.sheet.pose import (
    FEWEST_CORNER_MARKERS,
    LOOSE_TOLERANCE_MM,
    best_pose,
    box_corners,
)
from greasecheck.model import Box
from greasecheck.reference import known_cards
from greasecheck.reference.geometry import OWN_CHART
from greasecheck.reference.patches.values import nominal_values

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.measure.sheet.markers import Grey, SeenMarker
    from greasecheck.measure.sheet.pose import Attitude, Pose
    from greasecheck.model import FloatArray, Lens, PatchValues, SheetGeometry

VERSION_IDS = range(4, 10)  # kept for version markers, see calibration/sheet_v1.toml
# Without a source, where none is named; the comment beside each value states what it does.
SMALLEST_WIDTH_SHARE = 0.13  # of the picture's width that the sheet spans
SMALLEST_CARD_SHARE = 0.05  # beside the largest skulls, 700 mm, a card is a sixth as long
# Root mean square distance of marker corners from their places: so many mm, or this share of the
# diagonal of a larger chart, which bends and folds by more.
LARGEST_RESIDUAL_MM = 0.75
LARGEST_RESIDUAL_SHARE = LARGEST_RESIDUAL_MM / 322.0  # the diagonal of the sheet [mm]
# A true print is stretched by less; without a calibrated lens some of it may be the lens.
LARGEST_STRETCH = 0.015
LARGEST_STRETCH_UNCALIBRATED = 0.03
# Of seen with known lightness of patches; lower, a strange picture passes
LOWEST_PATCH_CORRELATION = 0.7
FRAME_MARGIN_MM = 1.0  # of the sheet that may lie outside the picture
PATCH_INSET_SHARE = 0.27  # of a patch's shorter side, left out on each side
PATCH_GRID = 5  # samples along each side of a patch


def refuse_second_sheet(seen: Sequence[SeenMarker], geometry: SheetGeometry) -> None:
    """Raise SheetError when two or more of the sheet's markers are seen twice."""
    own = {marker.id for marker in geometry.markers}
    numbers = [marker.id for marker in seen if marker.id in own]
    doubled = {number for number in numbers if numbers.count(number) > 1}
    if len(doubled) > 1:
        raise SheetError(
            "two reference sheets are in the picture",
            hint="take the photo again with one sheet only",
        )


def why_no_sheet(grey: Grey, sheets: Sequence[SheetGeometry]) -> SheetError:
    """Return why no sheet was found: it is mirrored, hidden in part, or not there.

    A card seen in a mirror is no card yet, so that it is looked for here, too.
    """
    if _is_mirrored(grey, (*sheets, *known_cards())):
        return SheetError(
            "the picture is mirrored",
            hint="switch off mirroring in the camera's settings (front cameras often do it)",
        )
    corners = max(_corner_markers_seen(grey, geometry) for geometry in sheets)
    if corners < FEWEST_CORNER_MARKERS - 1:
        return SheetError(
            "no reference sheet and no bone card is in the picture",
            hint="have all four corner markers in view, sharp and large enough (go closer, or use "
            "more pixels), no filter or portrait mode on: of the sheet behind the jar, or of the "
            "card beside the bone",
        )
    if corners < FEWEST_CORNER_MARKERS:
        return SheetError(
            f"only {corners} of the sheet's corner markers can be read",
            hint="uncover the corners, keep glare off them, have them sharp and in the frame",
        )
    return SheetError(
        "markers of the sheet were found, but not at their places on one sheet",
        hint="use one printed sheet, whole and flat",
    )


def _is_mirrored(grey: Grey, charts: Sequence[SheetGeometry]) -> bool:
    flipped = np.ascontiguousarray(grey[:, ::-1])
    seen = {name: detect_quickly(flipped, name) for name in {one.dictionary for one in charts}}
    return any(best_pose(seen[one.dictionary], one, None, LOOSE_TOLERANCE_MM) for one in charts)


def _corner_markers_seen(grey: Grey, geometry: SheetGeometry) -> int:
    corners = {marker.id for marker in geometry.markers if marker.corner}
    return len(corners & {marker.id for marker in detect_quickly(grey, geometry.dictionary)})


def refuse_unknown_version(
    seen: Sequence[SeenMarker], pose: Pose, geometry: SheetGeometry, lens: Lens | None
) -> None:
    """Raise SheetError when a version marker that no known sheet carries is on the sheet."""
    if geometry.version == OWN_CHART:
        return
    known = {marker.id for marker in geometry.markers}
    outline = _outline_px(pose, geometry, lens)
    for marker in seen:
        foreign = marker.id in VERSION_IDS and marker.id not in known
        if foreign and _inside(outline, marker.centre_px):
            raise SheetError(
                f"this sheet is of a version that is not known here (its version marker is number "
                f"{marker.id})",
                hint="update greasecheck, or print the sheet again with this version",
            )


def refuse_unfit_place(
    pose: Pose, geometry: SheetGeometry, lens: Lens | None, size_px: tuple[int, int]
) -> None:
    """Raise SheetError when the sheet is cut off, too small, or not flat."""
    outline = _outline_px(pose, geometry, lens)
    margin = FRAME_MARGIN_MM * scale_px_per_mm(pose, geometry)
    if (outline < -margin).any() or (outline > np.array(size_px) - 1 + margin).any():
        raise SheetError(
            "the sheet is cut off by the edge of the picture",
            hint="step back or turn the camera until the whole sheet is in the frame",
        )
    longest = np.hypot(*(outline - np.roll(outline, -1, axis=0)).T).max()
    least = SMALLEST_CARD_SHARE if geometry.is_card else SMALLEST_WIDTH_SHARE
    if longest < least * size_px[0]:
        raise SheetError(
            f"the sheet is too small: it spans {longest / size_px[0]:.0%} of the picture's width",
            hint="go closer until the sheet spans at least 15 % of the width, better half of it",
        )
    diagonal_mm = float(np.hypot(geometry.width_mm, geometry.height_mm))
    if pose.residual_mm > max(LARGEST_RESIDUAL_MM, LARGEST_RESIDUAL_SHARE * diagonal_mm):
        raise SheetError(
            f"the sheet's markers lie {pose.residual_mm:.1f} mm off their places: the sheet is "
            "bent, or the lens distorts",
            hint="flatten the sheet on a board; if that does not help, have the lens estimated",
        )


def refuse_stretched_print(found: Attitude, lens: Lens | None) -> None:
    """Raise SheetError when the print is wider or taller than it should be."""
    limit = LARGEST_STRETCH_UNCALIBRATED if lens is None else LARGEST_STRETCH
    if found.stretch > limit:
        raise SheetError(
            f"the sheet is stretched by {found.stretch:.1%}: its print is out of proportion",
            hint="print the sheet again at 100 %, without 'fit to page', and check its ruler; "
            "use the photo as the main lens took it, not a wide one, nor cropped or resized",
        )


def refuse_wrong_patches(
    grey: Grey, pose: Pose, geometry: SheetGeometry, lens: Lens | None, values: PatchValues | None
) -> None:
    """Raise SheetError when the patches are not where the pose puts them."""
    correlation = patch_correlation(grey, pose, geometry, lens, values)
    if correlation < LOWEST_PATCH_CORRELATION:
        raise SheetError(
            f"markers of the sheet were found, but not its patches (correlation {correlation:.2f})",
            hint="use the printed sheet of this version, and keep hands, shadows and glare off it",
        )


def patch_correlation(
    grey: Grey,
    pose: Pose,
    geometry: SheetGeometry,
    lens: Lens | None,
    values: PatchValues | None = None,
) -> float:
    """Correlation of the patches' brightness as seen with that expected, -1 to 1.

    Both are taken as logarithms, freed from a plane over the sheet: uneven light does not count.
    The expected are nominal; `values` serve a chart without. Without either it is 1.
    """
    known = values if geometry.patch_values is None else nominal_values(geometry)
    if known is None:
        return 1.0
    names = [name for name in geometry.patches if name in known.names]
    boxes = tuple(geometry.patches[name] for name in names)
    seen = _brightness(grey, pose, boxes, lens)
    expected = np.array([known.of(name)[1] for name in names])
    centres = np.array([box.centre_mm for box in boxes])
    plane = np.column_stack([centres, np.ones(len(centres))])
    logs = np.column_stack([np.log(seen + 1), np.log(expected + 1)])
    rest = logs - plane @ np.linalg.lstsq(plane, logs, rcond=None)[0]
    lengths = np.linalg.norm(rest, axis=0)
    return float(rest[:, 0] @ rest[:, 1] / max(lengths[0] * lengths[1], 1e-12))


def scale_px_per_mm(pose: Pose, geometry: SheetGeometry) -> float:
    """Mean scale over the sheet [px/mm]: root of the ratio of its areas."""
    outline = _outline_px(pose, geometry, None)
    x, y = outline.T
    area = abs(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2
    return float(np.sqrt(area / (geometry.width_mm * geometry.height_mm)))


def _outline_px(pose: Pose, geometry: SheetGeometry, lens: Lens | None) -> FloatArray:
    sheet = Box(x_mm=0, y_mm=0, width_mm=geometry.width_mm, height_mm=geometry.height_mm)
    return project(pose.homography, lens, box_corners(sheet))


def _inside(outline_px: FloatArray, point_px: FloatArray) -> bool:
    """Whether a point lies within a convex outline, whichever way round that runs."""
    edges = np.roll(outline_px, -1, axis=0) - outline_px
    to_point = point_px - outline_px
    sides = edges[:, 0] * to_point[:, 1] - edges[:, 1] * to_point[:, 0]
    return bool((sides > 0).all() or (sides < 0).all())


def _brightness(grey: Grey, pose: Pose, boxes: Sequence[Box], lens: Lens | None) -> FloatArray:
    """Mean grey value of the middle of each box, from a few pixels."""
    steps = np.linspace(-1, 1, PATCH_GRID)
    offsets = np.stack(np.meshgrid(steps, steps), axis=-1).reshape(1, -1, 2)
    centres = np.array([box.centre_mm for box in boxes])[:, np.newaxis]
    sides = np.array([(box.width_mm, box.height_mm) for box in boxes])[:, np.newaxis]
    inset = PATCH_INSET_SHARE * sides.min(axis=2, keepdims=True)
    points = (centres + offsets * (sides / 2 - inset)).reshape(-1, 2)
    places = np.rint(project(pose.homography, lens, points)).astype(int)
    columns, rows = np.clip(places, 0, np.array(grey.shape[::-1]) - 1).T
    means: FloatArray = grey[rows, columns].reshape(len(boxes), -1).mean(axis=1)
    return means
