"""Which tag counts as hung in the slot, and how large it is against the sheet."""

from __future__ import annotations

import numpy as np
import pytest

from greasecheck.errors import SheetError
from greasecheck.measure.sheet import find
from greasecheck.measure.sheet.find import Sighting, _tag_in_slot, _tag_scale
from greasecheck.measure.sheet.markers import SeenMarker
from greasecheck.measure.sheet.pose import Pose, box_corners
from greasecheck.reference import known_sheets

SHEET = known_sheets()[-1]
PX_PER_MM = 8.0
GREY = np.zeros((1, 1), np.uint8)


def pose() -> Pose:
    homography = np.diag([PX_PER_MM, PX_PER_MM, 1.0])
    inverse = np.linalg.inv(homography)
    return Pose(
        homography=homography, inverse=inverse, markers=(), residual_px=0.1, residual_mm=0.1
    )


def tag(number: int, *, scale: float = 1.0, right_mm: float = 0.0) -> SeenMarker:
    """Return a tag in its slot, printed larger by a factor or hung farther right."""
    corners = box_corners(SHEET.tag_marker)
    middle = corners.mean(axis=0)
    placed = (corners - middle) * scale + middle + np.array([right_mm, 0.0])
    return SeenMarker(id=number, corners_px=PX_PER_MM * placed)


@pytest.mark.parametrize("scale", [0.9, 1.0, 1.1])
def test_a_tag_printed_larger_has_a_scale_above_1(scale: float) -> None:
    assert _tag_scale(tag(12, scale=scale), pose(), SHEET, None) == pytest.approx(scale)


@pytest.mark.parametrize(
    ("aside_mm", "found"), [((0.0,), 0), ((60.0,), None), ((60.0, 0.0), 1), ((0.0, 5.0), "two")]
)
def test_one_tag_counts_and_one_that_hangs_elsewhere_does_not(
    monkeypatch: pytest.MonkeyPatch, aside_mm: tuple[float, ...], found: int | str | None
) -> None:
    tags = [tag(12 + place, right_mm=aside) for place, aside in enumerate(aside_mm)]
    monkeypatch.setattr(find, "detect_near", lambda *_: tags)
    monkeypatch.setattr(find, "refine", lambda _, seen: seen)
    sighting = Sighting(geometry=SHEET, pose=pose(), seen=())
    if found == "two":
        with pytest.raises(SheetError, match="two tags are in the slot"):
            _tag_in_slot(GREY, sighting, None)
        return
    seen = _tag_in_slot(GREY, sighting, None)
    assert (None if seen is None else seen.id) == (None if found is None else 12 + int(found))
