"""Cards, strips of wood and stones are told from bone by their edges, apart or touching."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.measure.bone.pieces import bone_pieces
from greasecheck.measure.bone.straight import (
    outlines_beside,
    straightness,
)
from greasecheck.measure.checks.verdict import foreign_checks
from greasecheck.measure.reading import view_photo
from greasecheck.model import BonePiece, Verdict
from tests.benchmarks.degraded_photos import settings_for
from tests.synthetic.degraded import things
from tests.synthetic.degraded.picture import load, save, truths
from tests.synthetic.drawn_photo import Scene, draw

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from greasecheck.model import BoolArray, FloatArray
    from tests.synthetic.degraded.picture import Picture, Scenery

    Spoil = Callable[[Scenery, np.random.Generator, float], Picture]

ANGLES = np.linspace(0, 2 * np.pi, 400, endpoint=False)
OVAL = np.column_stack([60 * np.cos(ANGLES), 40 * np.sin(ANGLES)])


def rectangle(width: float, height: float, turned_deg: float) -> FloatArray:
    """Outline with points each half millimetre, as a mask's has."""
    x, y = np.arange(0, width, 0.5), np.arange(0, height, 0.5)
    sides = [
        np.column_stack([x, 0 * x]),
        np.column_stack([width + 0 * y, y]),
        np.column_stack([width - x, height + 0 * x]),
        np.column_stack([0 * y, height - y]),
    ]
    turn = np.radians(turned_deg)
    way = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    return np.asarray(np.round(2 * np.concatenate(sides) @ way) / 2)


@pytest.mark.parametrize("turned_deg", [0.0, 20.0, 45.0, 71.0])
@pytest.mark.parametrize("size_mm", [(85.0, 54.0), (60.0, 10.0), (20.0, 14.0)])
def test_a_rectangle_is_square_at_any_angle(
    size_mm: tuple[float, float], turned_deg: float
) -> None:
    seen = straightness([OVAL, rectangle(*size_mm, turned_deg)])
    assert seen.corners == seen.outward >= 3
    assert seen.fullness > 0.9


@pytest.mark.parametrize("turned", [1, -1])
def test_a_hollow_has_square_corners_that_do_not_point_outwards(turned: int) -> None:
    arc = 40 * np.array([np.cos(ANGLES), np.sin(ANGLES)]).T
    hollow = np.array([(39.0, 12.0), (20.0, 12.0), (20.0, -12.0), (39.0, -12.0)])
    notched = np.concatenate([arc[np.abs(arc[:, 1]) > 12], arc[arc[:, 0] < -30]])
    order = np.argsort(np.arctan2(notched[:, 1], notched[:, 0]) % (2 * np.pi))
    seen = straightness([np.concatenate([notched[order], hollow[::-1]])[::turned]])
    assert (seen.corners, seen.outward) == (2, 0)


def polygon(*corners: tuple[float, float]) -> FloatArray:
    return np.array(corners)


def test_a_card_is_as_long_and_full_as_it_is_drawn() -> None:
    card = straightness([polygon((0, 0), (60, 0), (60, 30), (0, 30))])
    assert card.corners == 4
    assert card.longest == pytest.approx(60 / np.sqrt(1800))
    assert card.fullness == pytest.approx(1.0)
    both = straightness([polygon((0, 0), (60, 0), (60, 30)), polygon((0, 0), (80, 0), (0, 10))])
    assert both.longest == pytest.approx(np.hypot(80, 10) / np.sqrt(900 + 400))


@pytest.mark.parametrize(
    ("width", "height", "corners"),
    [(12.2, 7.0, 4), (11.8, 7.0, 0), (30.0, 6.2, 4), (30.0, 5.8, 0)],
)
def test_edges_that_make_a_corner_are_12_and_6_mm_long(
    width: float, height: float, corners: int
) -> None:
    seen = straightness([polygon((0, 0), (width, 0), (width, height), (0, height))])
    assert seen.corners == corners


@pytest.mark.parametrize(("leaning_deg", "corners"), [(11.5, 4), (12.5, 0), (-11.5, 4), (-12.5, 0)])
def test_a_square_corner_departs_by_12_degrees_at_most(leaning_deg: float, corners: int) -> None:
    lean = 30 * np.tan(np.radians(leaning_deg))
    seen = straightness([polygon((0, 0), (60, 0), (60 + lean, 30), (lean, 30))])
    assert seen.corners == corners


@pytest.mark.parametrize(("bevel_mm", "corners"), [(2.4, 4), (2.6, 3)])
def test_a_bevel_of_2_5_mm_is_no_edge(bevel_mm: float, corners: int) -> None:
    cut = bevel_mm / np.sqrt(2)
    seen = straightness([polygon((0, 0), (60 - cut, 0), (60, cut), (60, 40), (0, 40))])
    assert seen.corners == corners


@pytest.mark.parametrize(("gap_mm", "corners"), [(4.6, 4), (5.4, 3)])
def test_edges_meet_within_two_bevels(gap_mm: float, corners: int) -> None:
    """Two bevels of less than 2.5 mm, bulging, or three, between the two edges."""
    cut = gap_mm / np.sqrt(2)
    angles = np.radians(np.linspace(-90, 0, 3 if gap_mm < 5 else 4)[1:-1])
    arc = [(60 - cut + cut * np.cos(a), cut + cut * np.sin(a)) for a in angles]
    seen = straightness([polygon((0, 0), (60 - cut, 0), *arc, (60, cut), (60, 40), (0, 40))])
    assert seen.corners == corners


@pytest.mark.parametrize(("stray_mm", "longest_mm"), [(0.75, 60.0), (0.85, 30.0)])
def test_an_edge_strays_by_0_8_mm_at_most(stray_mm: float, longest_mm: float) -> None:
    bulging = polygon((0, 0), (30, -stray_mm), (60, 0), (60, 20), (30, 20 + stray_mm), (0, 20))
    seen = straightness([bulging])
    area = 60 * (20 + stray_mm)
    assert seen.longest == pytest.approx(longest_mm / np.sqrt(area), rel=1e-3)


def test_a_round_bone_has_neither_corner_nor_edge() -> None:
    seen = straightness([OVAL])
    assert (seen.corners, round(seen.fullness, 2)) == (0, 0.79)
    assert seen.longest < 0.5
    assert all(check.passed for check in foreign_checks(seen))


def test_pieces_of_a_photo_are_measured_in_the_plane_of_the_card() -> None:
    slanted = np.array([[4.0, 0.5, 30.0], [-0.3, 5.0, 60.0], [0.002, 0.001, 1.0]])
    placement = replace(draw(Scene())[1], homography=slanted)
    seen_px = np.column_stack([rectangle(60.0, 30.0, 20.0), np.ones(360)]) @ slanted.T
    outline_px = tuple((float(x / w), float(y / w)) for x, y, w in seen_px)
    piece = BonePiece(area_mm2=1800.0, outline_px=outline_px, holes_px=())
    seen = straightness(outlines_beside(placement, [piece]))
    assert seen.corners >= 3
    assert seen.fullness > 0.95


def test_nothing_is_no_fault() -> None:
    assert all(check.passed for check in foreign_checks(straightness([])))


@pytest.mark.parametrize("spoil", [things.card_on_rest, things.strip_on_rest, things.stone_on_rest])
def test_a_thing_on_the_rest_is_doubtful(spoil: Spoil, tmp_path: Path) -> None:
    truth = next(one for one in truths() if one.file.name == "11_tub14_april.jpg")
    picture = spoil(load(truth), np.random.default_rng(11), 0.8)
    path = tmp_path / "thing.jpg"
    save(picture, truth, path)
    view = view_photo(path, settings_for(truth.file.parent))
    assert view.reading.verdict is Verdict.DOUBTFUL
    failed = {check.name for check in view.reading.checks if not check.passed}
    assert failed & {
        "square_corners_of_bone",
        "bone_piece_fills_rectangle",
        "straight_edge_of_bone",
        "smaller_piece_fills_hull",
    }


def outline_of(inside: BoolArray) -> FloatArray:
    """Outline of a mask, traced as that of a reading's piece is."""
    piece = bone_pieces(inside, np.ones(inside.shape), np.asarray)[0]
    return np.array(piece.outline_px)


@pytest.mark.parametrize("narrow", [0.5, 0.75, 1.0])
def test_a_stone_beside_the_bone_is_doubtful(narrow: float) -> None:
    y, x = np.mgrid[-12:13, -12:13]
    rim = np.random.default_rng(5).normal(0, 0.25, x.shape)
    long = np.sqrt(150 / np.pi / narrow)
    stone = outline_of(np.hypot(x, y / narrow) + rim < long)
    checks = foreign_checks(straightness([stone, OVAL]))
    assert [check.name for check in checks if not check.passed] == ["smaller_piece_fills_hull"]
    assert all(check.passed for check in foreign_checks(straightness([stone])))


def test_half_of_a_lower_jaw_beside_the_skull_has_hollows() -> None:
    body = [(0.0, 0.0), (45.0, -3.0), (60.0, 4.0)]
    jaw = np.array([*body, (52.0, 10.0), (56.0, 24.0), (46.0, 26.0), (40.0, 8.0), (0.0, 5.0)])
    assert straightness([OVAL, jaw]).roundest < 0.8
