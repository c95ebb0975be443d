"""Shadows, froth and glare on the bars are told from water."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from greasecheck.measure.sight.view import FieldPair, SightView
from greasecheck.measure.water.light import COARSE_LOSS, BarLight, light_on_sight
from greasecheck.measure.water.reference import FieldReference, unknown_jar
from tests.synthetic.bar_pairs import CLEAR, HERE, pair

FloatArray = NDArray[np.float64]


def milky(kept: float) -> FloatArray:
    """Share of white that milky water keeps."""
    return np.full(3, 1 - COARSE_LOSS * (1 - kept))


REFERENCE = FieldReference(
    ratio=((1.0, 1.0, 1.0),) * 7,
    relative_std=(0.001, 0.001, 0.001),
    alignment=HERE,
    stretch=1.02,
    levels=CLEAR.levels,
)


def look(seen: FieldPair, reference: FieldReference = REFERENCE) -> BarLight:
    clear = replace(unknown_jar(60.0, 1), fine=reference, coarse=reference)
    return light_on_sight(SightView(fine=CLEAR, coarse=seen), clear)[1]


@pytest.mark.parametrize("kept", [0.99, 0.8, 0.5, 0.2, 0.05])
def test_milky_water_is_no_shadow(kept: float) -> None:
    light = look(pair(np.full(3, kept), milky(kept)))
    assert light.dim_depth == 0
    assert light.dim_share == 0
    assert light.bright_depth < 0.02
    assert light.relative_std == pytest.approx(0, abs=1e-9)
    assert light.white_gain <= 0


@pytest.mark.parametrize("depth", [0.1, 0.3, 0.6])
@pytest.mark.parametrize("kept", [1.0, 0.9])
def test_a_shadow_on_the_jar_is_sensed_by_its_size(kept: float, depth: float) -> None:
    light = look(pair(np.full(3, kept * (1 - depth)), milky(kept) * (1 - depth)))
    true_depth = -np.log(1 - depth)
    assert 0.6 * true_depth < light.dim_depth <= true_depth + 0.01
    assert light.dim_std > true_depth / 4
    assert light.dim_share > 0.33 or depth < 0.3


def test_brown_water_is_no_shadow() -> None:
    kept = np.array([0.38, 0.16, 0.06])  # absorbs blue more than twice as much as red
    assert look(pair(kept, kept + 0.1)).dim_depth == 0


def test_a_shadow_on_either_field_counts_for_both() -> None:
    dark = pair(np.full(3, 0.7), np.full(3, 0.7))
    clear = replace(unknown_jar(60.0, 1), fine=REFERENCE, coarse=REFERENCE)
    fine, coarse = light_on_sight(SightView(fine=CLEAR, coarse=dark), clear)
    assert fine.dim_depth == coarse.dim_depth > 0.2


def test_froth_is_brighter_than_milky_water() -> None:
    assert look(pair(np.full(3, 0.3), np.full(3, 0.95))).bright_depth > 0.25
    assert look(pair(np.full(3, 0.9), np.full(3, 1.2))).white_gain == pytest.approx(0.2)


def test_a_lean_counts_beyond_what_jars_do() -> None:
    kept = np.full(3, 0.9)
    slight = look(pair(kept, milky(0.9), lean=(0.05, -0.03)))
    strong = look(pair(kept, milky(0.9), lean=(0.0, -0.4)))
    assert slight.lean == 0
    assert 0.2 < strong.lean < 0.4
    assert strong.relative_std == pytest.approx(strong.lean / 2)


def test_changed_dry_bars_are_told_from_blurred_ones() -> None:
    levels = replace(CLEAR.levels, dry_white=(1.05, 1.05, 1.05), dry_black=(0.05, 0.05, 0.05))
    changed = look(CLEAR, replace(REFERENCE, levels=levels))
    assert changed.dry_level == pytest.approx(np.log(1.10 / 1.01), abs=1e-6)
    assert changed.dry_black == pytest.approx(0.02)
    blurred = replace(CLEAR.levels, dry_white=(0.91,) * 3, dry_black=(0.10,) * 3)
    assert look(CLEAR, replace(REFERENCE, levels=blurred)).dry_level == pytest.approx(0, abs=1e-6)


def test_without_levels_nothing_is_compared() -> None:
    light = look(pair(np.full(3, 0.5), np.full(3, 0.5)), replace(REFERENCE, levels=None))
    assert light.relative_std == light.dim_std == light.dim_share == 0
