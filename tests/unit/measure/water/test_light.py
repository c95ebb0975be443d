"""Shadows, froth and glare on the bars are told from water."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from greasecheck.measure.checks.limits import FROTH
from greasecheck.measure.sight.glass import GlassView
from greasecheck.measure.sight.view import FieldPair, SightView
from greasecheck.measure.water.light import BarLight, band_step, contrast_lost, light_on_sight
from greasecheck.measure.water.reference import FieldReference, unknown_jar
from tests.synthetic.bar_pairs import BLACK, CLEAR, HERE, WHITE, pair

FloatArray = NDArray[np.float64]
FINE_LOSS, COARSE_LOSS = 0.33, 0.50  # of white light, where no contrast is left


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
    assert light.bright_depth == 0
    assert light.off_depth < 0.01
    assert light.relative_std == pytest.approx(0, abs=1e-9)
    assert light.white_gain <= 0


@pytest.mark.parametrize("depth", [0.1, 0.3, 0.6])
@pytest.mark.parametrize("kept", [1.0, 0.9])
def test_a_shadow_on_the_jar_is_sensed_by_its_size(kept: float, depth: float) -> None:
    light = look(pair(np.full(3, kept * (1 - depth)), milky(kept) * (1 - depth)))
    true_depth = -np.log(1 - depth)
    assert 0.6 * true_depth < light.dim_depth <= true_depth + 0.01
    assert light.depth_std > true_depth / 2
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
    assert look(pair(np.full(3, 0.3), np.full(3, 0.95))).bright_depth > FROTH.doubtful
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
    assert light.relative_std == light.depth_std == light.dim_share == 0


def shadowed(depths: tuple[float, float, float], kept: float, loss: float) -> FieldPair:
    """Return bars behind milky water that a shadow dims by optical depths in R, G, B."""
    left = np.exp(-np.array(depths))
    return pair(kept * left, (1 - loss * (1 - kept)) * left)


@pytest.mark.parametrize(("loss", "which"), [(FINE_LOSS, 0), (COARSE_LOSS, 1)])
@pytest.mark.parametrize("kept", [0.9, 0.4])
def test_the_depth_of_a_shadow_is_that_beyond_milky_water_and_its_spread(
    loss: float, which: int, kept: float
) -> None:
    seen = shadowed((0.3, 0.3, 0.3), kept, loss)
    fields = (seen, CLEAR) if which == 0 else (CLEAR, seen)
    clear = replace(unknown_jar(60.0, 1), fine=REFERENCE, coarse=REFERENCE)
    light = light_on_sight(SightView(fine=fields[0], coarse=fields[1]), clear)[which]
    lost = 1 - kept * np.exp(-0.3)
    depth = 0.3 - (0.01 + 0.25 * lost**2)
    assert light.dim_depth == pytest.approx(depth)
    assert light.lost_depth == pytest.approx(0.3 - np.log(kept))
    assert light.depth_std == pytest.approx(0.7 * (0.3 - 0.01))
    assert light.dim_share == pytest.approx((depth - 0.03) / (0.3 - np.log(kept)))


@pytest.mark.parametrize(("blue", "share"), [(0.3, 1.0), (0.42, 0.6), (0.57, 0.1), (0.62, 0.0)])
def test_light_lost_twice_as_much_in_blue_is_the_water_s_colour(blue: float, share: float) -> None:
    red = 0.3
    kept = np.exp(-np.array([red, red, blue]))
    tolerance = 0.01 + 0.25 * (1 - kept) ** 2
    beyond = np.array([red, red, blue]) - tolerance
    dim = look(shadowed((red, red, blue), 1.0, COARSE_LOSS)).dim_depth
    expected = beyond[0] * np.clip(2.0 - beyond[2] / beyond[0], 0, 1)
    assert dim == pytest.approx(expected)
    assert dim == pytest.approx(share * beyond[0], abs=0.05)


def test_brighter_white_than_milky_water_sends_back_is_a_gain() -> None:
    bright = look(shadowed((-0.2, -0.2, -0.2), 0.5, COARSE_LOSS))
    lost = 1 - 0.5 * np.exp(0.2)
    assert bright.bright_depth == pytest.approx(0.2 - 0.01 - 0.17 * lost)
    assert bright.depth_std == pytest.approx(0.7 * (0.2 - 0.01))
    assert bright.dim_depth == 0


def test_a_gain_that_some_milky_water_makes_is_no_doubt_but_an_error() -> None:
    light = look(shadowed((-0.08,) * 3, 0.5, COARSE_LOSS))
    assert light.bright_depth == 0
    assert light.depth_std == pytest.approx(0.7 * 0.07)


def test_white_dimmer_than_any_water_leaves_it_keeps_the_depth_finite() -> None:
    light = look(pair(np.ones(3), np.full(3, 0.6)))  # counts as 0.8 of the contrast kept
    assert light.dim_depth == pytest.approx(np.log(0.5 / 0.3) - 0.01)
    lost = look(pair(np.zeros(3), np.full(3, 0.6)))
    assert lost.lost_depth == pytest.approx(np.log(1000))


@pytest.mark.parametrize(("lean", "beyond"), [(0.129, 0.0), (0.131, 0.001), (0.3, 0.17)])
def test_wet_bars_may_lean_more_where_contrast_is_lost(lean: float, beyond: float) -> None:
    noisy = pair(np.full(3, 0.9), milky(0.9), lean=(0.01, -lean))
    wet = replace(noisy.wet, std=np.full(3, 0.005))  # 6 x 0.005 / (0.9 x 0.95) = 0.0351
    tolerance = 0.08 + 0.15 * 0.1 + 6 * 0.005 / (0.9 * 0.95)
    found = look(replace(noisy, wet=wet)).lean
    assert found == pytest.approx(max(lean - tolerance, 0), abs=1e-9)
    assert found == pytest.approx(beyond, abs=2e-4)


def test_dry_bars_may_lean_as_they_did_in_clear_water() -> None:
    then = replace(REFERENCE, levels=replace(CLEAR.levels, dry_lean=(0.05, 0.0)))
    leaning = replace(CLEAR.dry, lean=(0.35, 0.0), std=np.full(3, 0.01))
    tolerance = 0.08 + 6 * 0.01 / 0.95
    clear_water = look(replace(CLEAR, dry=leaning), then).lean
    assert clear_water == pytest.approx(0.3 - tolerance)
    murky = replace(pair(np.full(3, 0.4), milky(0.4)), dry=leaning)
    assert look(murky, then).lean == pytest.approx(0.3 - tolerance - 0.15 * 0.6, abs=0.01)


def test_a_lean_is_half_believed_and_adds_to_changed_dry_bars() -> None:
    light = replace(look(CLEAR), dry_level=0.03, dry_black=0.04, lean=0.24)
    assert light.relative_std == pytest.approx(0.13)  # 0.03, 0.04 and 0.12 in squares


def low(lean: float, usual: float | None, kept: float = 0.9, *, std: float = 1e-4) -> BarLight:
    """Look at low bars that lean by so much across, `usual` of which is that of clear water."""
    glass = GlassView(modulation=1.0, std=0.001, used_share=1.0)
    seen = pair(np.full(3, kept), np.full(3, kept), lean=(lean, 0.0))
    seen = replace(seen, wet=replace(seen.wet, std=np.full(3, std)))
    levels = replace(CLEAR.levels, wet_lean=usual)
    clear = replace(unknown_jar(60.0, 2), coarse=replace(REFERENCE, levels=levels))
    return light_on_sight(SightView(fine=CLEAR, coarse=seen, glass=glass), clear)[1]


def test_a_finger_s_shadow_on_low_bars_leans() -> None:
    assert low(0.02, 0.0).lean == 0
    assert low(0.10, 0.0).lean == pytest.approx(0.07, abs=0.002)
    assert low(-0.10, 0.0).lean == pytest.approx(0.07, abs=0.002)
    assert low(0.10, None).lean == 0


def test_the_noise_of_faint_low_bars_is_no_lean() -> None:
    noise = 6 * 0.005 / (0.5 * 0.95)  # of the contrast left
    assert low(0.2, 0.0, kept=0.5, std=0.005).lean == pytest.approx(0.2 - 0.03 - noise)


def fine_and_coarse(
    lean: tuple[float, float], fine: FieldReference = REFERENCE
) -> tuple[BarLight, BarLight]:
    """Look at low bars of both widths that lean so much across and down."""
    glass = GlassView(modulation=1.0, std=0.001, used_share=1.0)
    seen = pair(np.full(3, 0.8), np.full(3, 0.9), lean=lean)
    clear = replace(unknown_jar(60.0, 2), fine=fine, coarse=REFERENCE)
    return light_on_sight(SightView(fine=seen, coarse=seen, glass=glass), clear)


@pytest.mark.parametrize("down", [-0.15, 0.15])
def test_murk_that_settles_leans_the_low_fine_bars_down(down: float) -> None:
    fine, coarse = fine_and_coarse((0.0, down))
    assert fine.lean == pytest.approx(0.12, abs=0.005)
    assert fine.relative_std == pytest.approx(fine.lean / 2, rel=0.01)
    assert coarse.lean == 0  # these may lie in the edge of the surface's shadow
    assert fine_and_coarse((0.0, down / 6))[0].lean == 0


def test_murk_takes_a_lean_that_the_lamp_makes() -> None:
    assert low(0.40, 0.70, kept=0.5).lean == 0
    assert low(0.60, 0.70, kept=0.98).lean == pytest.approx(0.056, abs=0.002)


def test_low_fine_bars_may_lean_down_as_in_clear_water_where_murk_takes_contrast() -> None:
    darker_below = replace(REFERENCE, ratio=((1.0,) * 3,) * 4 + ((0.8,) * 3,) * 3)
    plain, by_lamp = (
        fine_and_coarse((0.0, 0.3), fine=one)[0].lean for one in (REFERENCE, darker_below)
    )
    assert plain - by_lamp == pytest.approx(0.2 * 0.2, abs=0.005)  # a fifth is lost


def low_of(kept: FloatArray, veil: float) -> BarLight:
    """Look at low bars that keep such shares of contrast under such a veil."""
    glass = GlassView(modulation=1.0, std=0.001, used_share=1.0)
    white = kept * (WHITE - BLACK) + BLACK / WHITE * kept * (WHITE - BLACK) + veil
    clear = replace(unknown_jar(60.0, 2), coarse=REFERENCE)
    seen = SightView(fine=CLEAR, coarse=pair(kept, white / WHITE), glass=glass)
    return light_on_sight(seen, clear)[1]


@pytest.mark.parametrize("dark", [0.08, 0.3])
def test_a_shadow_on_low_bars_takes_contrast_alike_in_all_colours_without_a_veil(
    dark: float,
) -> None:
    light = low_of(np.full(3, 1 - dark), 0.0)
    assert light.dim_depth == pytest.approx(-np.log(1 - dark), rel=0.1)
    assert light.dim_share > 0.33


def test_milky_and_brown_water_on_low_bars_are_no_shadow() -> None:
    assert low_of(np.full(3, 0.8), 0.1).dim_depth == 0
    assert low_of(np.array([0.9, 0.83, 0.78]), 0.01).dim_depth == 0


def test_a_shadow_scatters_nothing_and_milky_water_absorbs_nothing() -> None:
    kept = np.full(3, 0.7)
    shadow, milk = (contrast_lost(pair(kept, white), REFERENCE) for white in (kept, milky(0.7)))
    assert shadow.scattered == pytest.approx(np.zeros(3), abs=1e-9)
    assert shadow.absorbed == pytest.approx(-np.log(kept))
    assert milk.scattered == pytest.approx(np.full(3, 0.3))
    assert milk.absorbed == pytest.approx(np.zeros(3), abs=1e-9)


def test_however_deep_brown_water_is_no_shadow_and_a_shadow_on_it_is_seen() -> None:
    """Of red contrast it may take nearly all, of blue it takes no more than all."""
    for red in (0.2, 1.0, 2.5):
        kept = np.exp(-red * np.array([1.0, 1.6, 2.1]))
        assert low_of(kept, 0.0).dim_share == 0
        shaded = low_of(kept * np.exp(-0.3), 0.0)
        assert 0 < shaded.dim_depth < 0.3


def with_bands(*contrast: float) -> FieldPair:
    """Bars whose bands have the given contrast from the top."""
    bands = np.tile(np.array(contrast)[:, np.newaxis], 3)
    return replace(CLEAR, wet=replace(CLEAR.wet, bands=bands, bands_std=np.full(3, 0.01)))


def test_a_lost_band_is_a_step_and_a_lean_is_none() -> None:
    """The line through six bands of 0.5 and none in the middle lies at 3/7 there."""
    lost = with_bands(0.5, 0.5, 0.5, 0.0, 0.5, 0.5, 0.5)
    assert band_step(lost) == pytest.approx((3 / 7 - 0.04) / 0.5)
    assert band_step(with_bands(0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8)) == 0
    assert band_step(with_bands(0.5, 0.46, 0.5, 0.47, 0.5, 0.48, 0.5)) == 0


def test_bars_that_murk_hides_have_no_step() -> None:
    flat = with_bands(*[0.0] * 7)
    assert band_step(replace(flat, wet=replace(flat.wet, bands_std=np.zeros(3)))) == 0
    assert band_step(with_bands(0.07, -0.06, 0.02, 0.0, 0.07, -0.05, 0.01)) == 0
    assert band_step(with_bands(0.09, -0.06, 0.02, 0.0, 0.07, -0.05, 0.01)) > 0
