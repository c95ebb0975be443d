"""A skull's looks side by side: as large as each other and turned alike."""

from __future__ import annotations

import numpy as np
import pytest

from greasecheck.report.skull.strip import FILL, GAP_PX, MOST_LOOKS, SIDE_PX, StripLook, draw_strip

SIZE = (200, 300)
BONE = (230, 220, 190)


def wedge(turns: int = 0, scale: int = 1) -> StripLook:
    """A bone that is thick at one end, turned by so many right angles; the thick end is red."""
    mask = np.zeros(SIZE, bool)
    mask[100 - 12 * scale : 100 + 12 * scale, 150 - 40 * scale : 150 + 40 * scale] = True
    mask[100 - 24 * scale : 100 + 24 * scale, 150 - 40 * scale : 150 - 10 * scale] = True
    rgb = np.zeros((*SIZE, 3), np.uint8)
    rgb[mask] = BONE
    rgb[:, : 150 - 10 * scale][mask[:, : 150 - 10 * scale]] = (200, 40, 40)
    return StripLook(rgb=np.rot90(rgb, turns).copy(), mask=np.rot90(mask, turns).copy(), lines=())


def squares(looks: list[StripLook]) -> list[np.ndarray]:
    page = np.asarray(draw_strip(looks)).astype(int)
    starts = [GAP_PX + place * (SIDE_PX + GAP_PX) for place in range(len(looks))]
    return [page[GAP_PX : GAP_PX + SIDE_PX, left : left + SIDE_PX] for left in starts]


def red_end(square: np.ndarray) -> float:
    """Return where the red end is, from -1 at the left to 1 at the right."""
    red = square[..., 0] - square[..., 1] > 100
    return float((np.nonzero(red)[1].mean() - SIDE_PX / 2) / (SIDE_PX / 2))


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_a_skull_that_lay_otherwise_is_turned_as_in_the_look_before(turns: int) -> None:
    first, other = squares([wedge(), wedge(turns)])
    assert abs(red_end(first)) > 0.3
    assert red_end(other) == pytest.approx(red_end(first), abs=0.05)


@pytest.mark.parametrize("scale", [1, 2])
def test_its_longer_side_fills_the_same_part_of_each_square(scale: int) -> None:
    [square] = squares([wedge(scale=scale)])
    columns = np.nonzero((square.max(axis=2) > 100).any(axis=0))[0]
    assert np.ptp(columns) == pytest.approx(FILL * SIDE_PX, abs=6)
    assert columns.mean() == pytest.approx(SIDE_PX / 2, abs=3)


def test_of_many_looks_the_first_and_the_last_are_among_those_shown() -> None:
    empty = StripLook(rgb=None, mask=None, lines=())
    page = draw_strip([wedge(), *[empty] * (2 * MOST_LOOKS), wedge()])
    assert page.width == MOST_LOOKS * (SIDE_PX + GAP_PX) + GAP_PX
    pixels = np.asarray(page).max(axis=2)[GAP_PX : GAP_PX + SIDE_PX]
    shown = [
        pixels[:, left : left + SIDE_PX].max() > 100
        for left in range(GAP_PX, page.width - GAP_PX, SIDE_PX + GAP_PX)
    ]
    assert shown == [True, *[False] * (MOST_LOOKS - 2), True]
