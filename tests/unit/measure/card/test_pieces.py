"""Which pieces beside a card are bone, on drawn pieces, worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from greasecheck.measure.card.look import _likely_skulls
from greasecheck.measure.card.pieces import Piece, find_pieces
from greasecheck.measure.card.surroundings import Surroundings
from greasecheck.measure.colorimetry import lab_from_xyz
from greasecheck.model import LeftOutReason

SIZE = (200, 300)
CLOTH, PALE = np.array([3.8, 4.0, 4.3]), np.array([57.0, 60.0, 55.0])
GREEN = np.array([20.0, 40.0, 20.0])


def scene(*things: tuple[tuple[slice, slice], np.ndarray]) -> Surroundings:
    """Things on cloth, one square millimetre a sample; no card is seen."""
    xyz = np.tile(CLOTH, (*SIZE, 1))
    for place, colour in things:
        xyz[place] = colour
    return Surroundings(
        step_px=1.0,
        whole_px=1.0,
        xyz=xyz,
        lab=lab_from_xyz(xyz).astype(np.float32),
        unclipped=np.ones(SIZE, bool),
        on_card=np.zeros(SIZE, bool),
        mm2=np.ones(SIZE),
        beyond=np.ones(SIZE),
    )


def pieces_of(*things: tuple[tuple[slice, slice], np.ndarray]) -> list[Piece]:
    around = scene(*things)
    return list(find_pieces(around, np.asarray(around.lightness > 40)))


def test_pieces_come_largest_first_and_crumbs_go_by_the_largest_bone() -> None:
    skull, jaw = np.s_[20:120, 20:120], np.s_[20:42, 150:160]
    crumb = np.s_[60:72, 150:165]
    found = pieces_of((jaw, PALE), (skull, PALE), (crumb, PALE))
    assert [piece.area_mm2 for piece in found] == [10_000, 220, 180]
    assert [piece.reason for piece in found] == [None, None, LeftOutReason.CRUMB]  # below 2 %


def test_what_is_no_bone_makes_no_crumbs_of_bone() -> None:
    found = pieces_of((np.s_[20:120, 20:120], GREEN), (np.s_[60:72, 150:165], PALE))
    assert [piece.reason for piece in found] == [LeftOutReason.COLOUR, None]


@pytest.mark.parametrize(
    ("share", "solidity", "skulls"),
    [(0.76, 0.5, 2), (0.74, 0.5, 1), (0.56, 0.76, 2), (0.54, 0.76, 1), (0.56, 0.74, 1)],
)
def test_another_skull_is_as_large_or_as_solid_as_one(
    share: float, solidity: float, skulls: int
) -> None:
    mask = np.ones((2, 2), bool)
    first = Piece(mask=mask, area_mm2=5000.0, solidity=0.9, reason=None)
    second = Piece(mask=mask, area_mm2=5000.0 * share, solidity=solidity, reason=None)
    hand = Piece(mask=mask, area_mm2=5000.0, solidity=0.9, reason=LeftOutReason.COLOUR)
    assert _likely_skulls([first, second, hand]) == skulls
