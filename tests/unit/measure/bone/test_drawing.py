"""Where a tap on the bone lands: on the sample whose middle is nearest."""

from __future__ import annotations

import numpy as np
import pytest

from greasecheck.measure.bone.drawing import DrawnBone, Mark, corrected
from greasecheck.measure.bone.mask import Found
from greasecheck.measure.bone.zone import Zone
from greasecheck.model import Box, Stroke

PER_MM, LEFT_MM, TOP_MM = 2.0, 30.0, 10.0


def stripes() -> Found:
    """Return two pieces of bone, each one sample wide, apart by one: columns 3 and 5."""
    bone = np.zeros((8, 9), dtype=np.bool_)
    bone[:, 3] = bone[:, 5] = True
    nothing = np.zeros_like(bone)
    return Found(bone=bone, at_edge=nothing, crumbs=nothing)


def tapped(x_mm: float, y_mm: float) -> list[int]:
    """Return which columns stay bone after a tap."""
    found = stripes()
    seen = np.ones(found.bone.shape, dtype=np.bool_)
    box = Box(x_mm=LEFT_MM, y_mm=TOP_MM, width_mm=9 / PER_MM, height_mm=8 / PER_MM)
    zone = Zone(box=box, per_mm=PER_MM, seen=seen, unclipped=seen, xyz=np.ones((*seen.shape, 3)))
    tap = Mark(stroke=Stroke.TAP, places_mm=np.array([[x_mm, y_mm]]))
    mask = corrected(found, DrawnBone(marks=(tap,)), zone).bone
    return [int(column) for column in np.flatnonzero(mask.all(axis=0))]


@pytest.mark.parametrize(("column", "left"), [(3, [5]), (5, [3])])
@pytest.mark.parametrize("aside", [-0.45, 0.0, 0.45])
def test_a_tap_takes_out_the_piece_under_it(column: int, left: list[int], aside: float) -> None:
    middle_mm = LEFT_MM + (column + 0.5 + aside) / PER_MM
    assert tapped(middle_mm, TOP_MM + 1.0) == left


def test_a_tap_outside_counts_at_the_edge() -> None:
    assert tapped(LEFT_MM - 5.0, TOP_MM - 5.0) == [3, 5]
    assert tapped(LEFT_MM + 50.0, TOP_MM + 50.0) == [3, 5]
    assert tapped(LEFT_MM + 3.5 / PER_MM, TOP_MM + 50.0) == [5]
