"""Plates by their markers: when all of them are seen, and when another look is needed."""

import numpy as np
import pytest

from greasecheck.measure.ladder.find import _all_whole
from greasecheck.measure.sheet.markers import SeenMarker
from greasecheck.measure.sheet.pose import box_corners
from greasecheck.reference.ladder.plate import dip_ladder

APART_PX = 400.0


def plate(place: int, *ids: int) -> list[SeenMarker]:
    """Return markers of a plate that faces the camera, at a pixel a millimetre."""
    boxes = dip_ladder().markers
    return [
        SeenMarker(id=one, corners_px=box_corners(boxes[one]) + np.array([place * APART_PX, 0.0]))
        for one in ids
    ]


ALL = tuple(dip_ladder().markers)


@pytest.mark.parametrize(
    ("seen", "whole"),
    [
        ([], False),
        (plate(0, *ALL), True),
        ([*plate(0, *ALL), *plate(1, *ALL)], True),
        (plate(0, *ALL[:3]), False),
        ([*plate(0, *ALL[:2]), *plate(1, *ALL[2:])], False),  # as many as of one plate
        ([*plate(0, *ALL), *plate(1, *ALL[:2]), *plate(2, *ALL[:2])], False),
    ],
)
def test_each_plate_must_be_whole(seen: list[SeenMarker], whole: bool) -> None:
    assert _all_whole(seen) is whole
