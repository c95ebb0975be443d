"""What is bone on a map of lightness, from both sides of each limit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.errors import BoneError
from greasecheck.measure.bone.mask import Found, Ground, find_bone, matt_surface
from greasecheck.model import Absent

if TYPE_CHECKING:
    from greasecheck.model import BoolArray, FloatArray

PER_MM = 4.0
SIDE_MM = 100.0
SIDE_PX = round(SIDE_MM * PER_MM)
REST_L = 20.0
Patch = tuple[float, float, float, float, float]  # left, top, width, height [mm], value


def painted(ground: float, *patches: Patch) -> FloatArray:
    values = np.full((SIDE_PX, SIDE_PX), ground)
    for left, top, width, height, value in patches:
        rows = slice(round(top * PER_MM), round((top + height) * PER_MM))
        values[rows, round(left * PER_MM) : round((left + width) * PER_MM)] = value
    return values


def look(lightness: FloatArray, yellowness: float | FloatArray = 20.0) -> Found | Absent:
    everywhere = np.ones(lightness.shape, dtype=np.bool_)
    return find_bone(
        Ground(
            lightness=lightness,
            yellowness=np.broadcast_to(np.asarray(yellowness, dtype=np.float64), lightness.shape),
            seen=everywhere,
            inner=everywhere,
            per_mm=PER_MM,
        )
    )


def area_mm2(found: Found | Absent) -> float:
    assert isinstance(found, Found)
    return float(found.bone.sum() / PER_MM**2)


@pytest.mark.parametrize(("length_mm", "is_bone"), [(14.4, False), (15.5, True)])
def test_debris_is_smaller_than_60_mm2(length_mm: float, is_bone: bool) -> None:
    found = look(painted(REST_L, (30, 40, length_mm, 4, 80)))
    assert isinstance(found, Found) is is_bone


@pytest.mark.parametrize(("share", "pieces"), [(0.047, 1), (0.054, 2)])
def test_a_crumb_is_smaller_than_a_twentieth_of_the_bone(share: float, pieces: int) -> None:
    found = look(painted(REST_L, (20, 20, 60, 40, 80), (20, 70, 2400 * share / 8, 8, 80)))
    assert isinstance(found, Found)
    expected = 2400 * (1 if pieces == 1 else 1 + share)
    assert area_mm2(found) == pytest.approx(expected, rel=0.01)
    assert found.crumbs.any() is np.bool_(pieces == 1)


@pytest.mark.parametrize(("above_l", "is_bone"), [(14.5, False), (15.5, True)])
def test_bone_is_15_lighter_than_the_rest(above_l: float, is_bone: bool) -> None:
    found = look(painted(REST_L, (30, 30, 40, 40, REST_L + above_l)))
    assert (found is Absent.BONE) is not is_bone


@pytest.mark.parametrize(("rest_l", "absent"), [(35.5, Absent.BONE), (36.5, Absent.DARK_REST)])
def test_an_even_zone_is_an_empty_rest_only_when_black(rest_l: float, absent: Absent) -> None:
    assert look(painted(rest_l)) is absent


def test_a_rest_above_48_is_not_dark() -> None:
    assert isinstance(look(painted(47.5, (30, 30, 40, 40, 85))), Found)
    with pytest.raises(BoneError, match="not dark"):
        look(painted(48.5, (30, 30, 40, 40, 85)))


@pytest.mark.parametrize(("dark_mm2", "absent"), [(490.0, True), (510.0, False)])
def test_a_twentieth_of_dark_rest_shows_that_a_large_bone_covers_it(
    dark_mm2: float, absent: bool
) -> None:
    # 5 % of 10,000 mm2, at an edge, so that it does not lie within, and little of the border
    found = look(painted(80.0, (0, 40, 30, dark_mm2 / 30, 20)))
    assert (found is Absent.DARK_REST) is absent


@pytest.mark.parametrize(("above_l", "is_bone"), [(17.5, False), (18.5, True)])
def test_the_edge_lies_a_third_of_the_way_up_at_least(above_l: float, is_bone: bool) -> None:
    # from 20 to 80; Otsu's threshold falls to the rest itself, as little of the bone is bright
    found = look(painted(REST_L, (20, 20, 50, 40, REST_L + above_l), (20, 20, 10, 10, 80)))
    assert area_mm2(found) == pytest.approx(2000 if is_bone else 100, rel=0.02)


def test_the_edge_lies_half_of_the_way_up_at_most() -> None:
    # most of the bone is dim: Otsu's threshold falls between dim and bright, at 58 of 20 to 80
    found = look(painted(REST_L, (8, 8, 84, 84, 58), (8, 8, 84, 30, 80)))
    assert area_mm2(found) == pytest.approx(84 * 84, rel=0.01)


@pytest.mark.parametrize(("above_l", "is_bone"), [(9.5, False), (10.5, True)])
def test_the_edge_lies_10_above_the_rest_at_least(above_l: float, is_bone: bool) -> None:
    found = look(painted(REST_L, (20, 20, 50, 40, 38), (20, 60, 50, 10, REST_L + above_l)))
    assert area_mm2(found) == pytest.approx(2500 if is_bone else 2000, rel=0.02)


def test_the_rest_is_seen_in_a_border_of_4_mm() -> None:
    # 2.2 mm of 20 around ground of 30; from 30 on an edge lies at 45 instead of at 38
    ground = painted(20.0, (2.2, 2.2, 95.6, 95.6, 30))
    ground = np.where(painted(0, (20, 20, 50, 40, 1)) > 0, 41, ground)
    found = look(np.where(painted(0, (20, 20, 10, 10, 1)) > 0, 80, ground))
    assert area_mm2(found) == pytest.approx(2000, rel=0.02)


@pytest.mark.parametrize(("width_mm", "is_bone"), [(1.75, False), (2.5, True)])
def test_threads_are_thinner_than_2_mm(width_mm: float, is_bone: bool) -> None:
    found = look(painted(REST_L, (10, 30, 80, width_mm, 80)))
    assert isinstance(found, Found) is is_bone


@pytest.mark.parametrize(("yellower", "is_bone"), [(14.0, True), (16.0, False)])
def test_beyond_the_zone_only_what_is_as_yellow_is_bone(yellower: float, is_bone: bool) -> None:
    lightness = painted(REST_L, (30, 30, 40, 68, 80))
    inner = painted(0, (0, 0, 100, 90, 1)) > 0
    yellowness = np.where(inner, 20.0, 20.0 + yellower)
    found = find_bone(
        Ground(
            lightness=lightness,
            yellowness=yellowness,
            seen=np.ones_like(inner),
            inner=inner,
            per_mm=PER_MM,
        )
    )
    assert area_mm2(found) == pytest.approx(40 * (68 if is_bone else 60), rel=0.01)


def surface(
    luminance: FloatArray, yellowness: float | FloatArray = 20.0
) -> tuple[BoolArray, BoolArray]:
    """Return the bone, 80 mm square, and the part of it whose colour counts."""
    bone = painted(0, (10, 10, 80, 80, 1)) > 0
    yellow = np.broadcast_to(np.asarray(yellowness, dtype=np.float64), luminance.shape)
    return bone, matt_surface(bone, luminance, yellow, PER_MM).lit


def test_a_rim_of_1_mm_is_left_out() -> None:
    _, matt = surface(painted(60.0))
    assert matt.sum() / PER_MM**2 == pytest.approx(78 * 78)


def test_of_a_thin_bone_the_rim_counts_too() -> None:
    """Of 3 mm the rim would leave a third."""
    thin = painted(0, (10, 10, 80, 3, 1)) > 0
    luminance = np.full(thin.shape, 60.0)
    lit = matt_surface(thin, luminance, np.full(thin.shape, 20.0), PER_MM).lit
    assert lit.sum() == thin.sum()


@pytest.mark.parametrize(("share", "counts"), [(0.29, False), (0.31, True)])
def test_a_cavity_is_darker_than_3_tenths_of_the_lit_bone(share: float, counts: bool) -> None:
    _, matt = surface(painted(60.0, (40, 40, 10, 10, 60 * share)))
    assert bool(matt[180, 180]) is counts


@pytest.mark.parametrize(("share", "is_seen"), [(0.09, False), (0.11, True)])
def test_shaded_bone_is_seen_down_to_a_tenth_of_the_lit(share: float, is_seen: bool) -> None:
    luminance = painted(60.0, (40, 40, 10, 10, 60 * share))
    bone = painted(0, (10, 10, 80, 80, 1)) > 0
    matt = matt_surface(bone, luminance, np.full(luminance.shape, 20.0), PER_MM)
    assert bool(matt.seen[180, 180]) is is_seen
    assert not matt.lit[180, 180]
    assert not matt.seen[40:44, 180].any()  # the rim


# A spot of 3 mm in a mean over 17 mm: around it is 60.3 to 60.4
@pytest.mark.parametrize(
    ("bright", "paler", "is_glare"),
    [(1.17, 4.3, True), (1.14, 4.3, False), (1.17, 3.8, False)],
)
def test_glare_is_brighter_and_paler_than_the_bone_around(
    bright: float, paler: float, is_glare: bool
) -> None:
    spot = (45.0, 45.0, 3.0, 3.0)
    _, matt = surface(painted(60.0, (*spot, 60 * bright)), painted(20.0, (*spot, 20 - paler)))
    assert bool(matt[186, 186]) is not is_glare


@pytest.mark.parametrize(("bright", "is_glare"), [(62.5, False), (63.5, True)])
def test_glare_is_brighter_than_the_well_lit_bone(bright: float, is_glare: bool) -> None:
    spot = (20.0, 45.0, 3.0, 3.0)
    luminance = painted(60.0, (10, 10, 30, 80, 40), (*spot, bright))
    _, matt = surface(luminance, painted(20.0, (*spot, 10)))
    assert bool(matt[186, 86]) is not is_glare


@pytest.mark.parametrize(("side_mm", "is_glare"), [(10.0, True), (14.0, False)])
def test_a_highlight_is_narrower_than_twice_8_mm(side_mm: float, is_glare: bool) -> None:
    spot = (50 - side_mm / 2, 50 - side_mm / 2, side_mm, side_mm)
    _, matt = surface(painted(60.0, (*spot, 78)), painted(20.0, (*spot, 5)))
    assert bool(matt[200, 200]) is not is_glare


@pytest.mark.parametrize(("bone_l", "rest_l"), [(34.0, 34.0), (36.0, 20.0)])
def test_a_border_covered_by_half_shows_the_rest_by_its_darkest_tenth(
    bone_l: float, rest_l: float
) -> None:
    """A bone over most of the border, 14 or 16 lighter than the rest of 20 that is left of it."""
    lightness = painted(bone_l, (0, 0, 100, 20, REST_L))
    lightness[painted(0, (30, 40, 20, 20, 1)) > 0] = 49.5
    # from 34 on the patch of 49.5 stands out by itself; from 20 on it is one with what is around
    found = look(lightness)
    assert isinstance(found, Found)
    assert found.at_edge.any() is np.bool_(rest_l == REST_L)
