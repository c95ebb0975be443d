"""The card's own paper, left around it, is told from a pale bone that touches it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np
import pytest

from greasecheck.measure.card.cloth import find_cloth
from greasecheck.measure.card.masks import grown
from greasecheck.measure.card.pieces import find_pieces, standing_out
from greasecheck.measure.card.surroundings import Surroundings
from greasecheck.measure.colorimetry import lab_from_xyz
from greasecheck.model import LeftOutReason
from greasecheck.reference.cie import WHITES

if TYPE_CHECKING:
    from greasecheck.model import BoolArray

SIZE = (480, 640)  # samples, of half a millimetre
WHITE = np.array(WHITES["D65"]) / 100
CLOTH_Y, PAPER_Y, BONE_Y = 4.0, 85.0, 75.0
CARD = ((60, 60), (350, 100), (322, 303), (32, 263))  # corners, 146 by 102 mm, a little askew
SKULL = (480, 330)  # its middle


def filled(*corners: tuple[int, int]) -> BoolArray:
    canvas = np.zeros(SIZE, np.uint8)
    return np.asarray(cv2.fillConvexPoly(canvas, np.array(corners, np.int32), (1,)) > 0)


def oval(middle: tuple[int, int], halves: tuple[int, int], turn_deg: float) -> BoolArray:
    canvas = np.zeros(SIZE, np.uint8)
    return np.asarray(cv2.ellipse(canvas, (middle, halves, turn_deg), (1,), -1) > 0)


def scene(paper: BoolArray, bone: BoolArray) -> Surroundings:
    """Paper and bone, as pale as whitened bone is, on dark cloth beside the card."""
    card = filled(*CARD)
    level = np.full(SIZE, CLOTH_Y)
    level[paper | card], level[bone] = PAPER_Y, BONE_Y
    grain = np.random.default_rng(5).normal(1, 0.01, (*SIZE, 3))
    xyz = level[..., np.newaxis] * WHITE * grain
    return Surroundings(
        step_px=1.0,
        whole_px=1.0,
        xyz=xyz,
        lab=lab_from_xyz(xyz).astype(np.float32),
        unclipped=np.ones(SIZE, bool),
        on_card=card,
        mm2=np.full(SIZE, 0.25),
        beyond=np.ones(SIZE),
    )


def reasons(seen: Surroundings) -> list[LeftOutReason | None]:
    return [piece.reason for piece in find_pieces(seen, standing_out(seen, find_cloth(seen), None))]


@pytest.mark.parametrize(
    "corners",
    [
        ((350, 100), (360, 101), (332, 304), (322, 303)),  # 5 mm along a short side
        ((336, 200), (322, 303), (334, 305)),  # cut askew: a wedge along half of it
        ((50, 40), (370, 84), (338, 323), (16, 279)),  # all around
        ((322, 303), (32, 263), (12, 410), (302, 450)),  # the rest of the page below it
    ],
)
def test_paper_left_on_the_card_is_no_bone(corners: tuple[tuple[int, int], ...]) -> None:
    seen = scene(filled(*corners), oval(SKULL, (80, 50), 20.0))
    assert sorted(reasons(seen), key=str) == [None, LeftOutReason.PAPER]


@pytest.mark.parametrize("halves", [(104, 60), (38, 60), (20, 20)])
def test_a_pale_bone_that_touches_the_card_is_bone(halves: tuple[int, int]) -> None:
    near = grown(filled(*CARD), 1)
    laid = (oval((x, 190), halves, 0.0) for x in range(500, 300, -1))
    touching = next(bone for bone in laid if (bone & near).any())
    assert reasons(scene(np.zeros(SIZE, bool), touching)) == [None]
