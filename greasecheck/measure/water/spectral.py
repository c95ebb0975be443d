"""The water by three channels and bars of two widths together.

Murk does three things to bars behind it. It takes contrast from the sight line, a little less of it
for wide bars (`scatter.bar_factor`). It takes light from the bars themselves, which stand in the
jar's light: of that

    ln(light left) = -S s / (1 + SATURATION s) - B (1 - albedo) c L,
    s = albedo (1 - g) c L,

is left. S is near 1 where the jar gathers a lamp's light on the bars and falls to below 0 where
the shadow of the water's surface lies on them, into which murk scatters light; B is the path of the
light to the bars over L. And it sends light back, the veil, as a share of paper white

    veil = A x / (1 + VEIL_BEND x + VEIL_ABSORBED (1 - albedo) c L)^VEIL_POWER,
    x = albedo (1 - g)^VEIL_SIDEWAYS c L.

Attenuation c and albedo differ from channel to channel, the asymmetry g does not. Given g, the
albedo, S and A the fine bars give c; coarse bars and veil weigh which of these are likely. The
answer averages over all of them. A bright spot on the jar multiplies bars and veil alike, which no
water does: how much better that explains what is seen is given beside the answer.

Constants in capitals come from a script, `tests/benchmarks/water_constants.py`: a fit to
path-traced stands in some lights, judged in others.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.water.scatter import BeamAttenuation, bar_factor

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.measure.sight.stand_light import StandLight
    from greasecheck.model import FloatArray

ASYMMETRIES = np.linspace(0.45, 0.97, 27)
# Fat emulsions have g of 0.48 to 0.80 at 610 nm: Michels, Foschum & Kienle (2008), Opt. Express 16,
# 5907, doi:10.1364/OE.16.005907, equations 7 and table 5 (figures as quoted there from memory).
# Larger droplets and dirt scatter farther forward; the prior covers both.
USUAL_ASYMMETRY, ASYMMETRY_STD = 0.72, 0.16
ABSORBED_SHARES = np.geomspace(0.008, 0.7, 14)  # 1 - albedo: fat to blood, each octave alike
ALBEDOS = 1 - ABSORBED_SHARES
BELIEFS = np.array([-2.0, -1.0, 0.0, 1.0, 2.0])  # standard deviations of S and A that are tried
SATURATION = 1.116
# Narrow bars keep so much of the contrast that small angles promise (`scatter.bar_factor`).
FORWARD, NARROW_MM = 0.687, 4.0
VEIL_SIDEWAYS, VEIL_BEND, VEIL_ABSORBED, VEIL_POWER = 0.093, 0.254, 1.434, 2.703
VEIL_STD, VEIL_NOISE = 0.12, 0.004  # relative; absolute, paper white = 1
MODEL_STD = 0.02  # relative, of an optical depth that the model gives
LEAST_VEIL, LEAST_SHADE = 1e-3, 0.05
GAINS = (0.05, 0.10, 0.20)  # logarithms of light that a bright spot may add to the jar
GAIN_ODDS = 0.05  # of a bright spot before anything is seen; no source: one photo in twenty
LEAST_DEPTH = 0.02  # optical depth below which all that adds to it is in proportion


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelDepths:
    """The bars' contrast in one channel, as optical depths along the sight line.

    Attributes
    ----------
    fine, coarse : float
        -ln of the share of contrast kept.
    fine_std, coarse_std : float
        Their standard errors; `coarse_std` is infinite where the coarse bars are not used.
    veil : float
        Light that the water adds beyond that of clear water, paper white = 1.
    """

    fine: float
    fine_std: float
    coarse: float
    coarse_std: float
    veil: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Grid:
    """Depths c L on the grid (albedo, S, g) and the log likelihood (A, albedo, S, g)."""

    depth: FloatArray
    slope: FloatArray  # of the depth against that by the fine bars
    log_likelihood: FloatArray
    over_albedo: FloatArray  # the same summed over the albedo, (A, S, g)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shading:
    """How the bars' light is lost: shares of a depth that turn aside, and that are absorbed."""

    aside: FloatArray
    absorbed: FloatArray

    def turned(self, depth: FloatArray) -> FloatArray:
        """Return the logarithm of the light turned aside, over S."""
        aside = self.aside * depth
        return np.asarray(aside / (1 + SATURATION * aside))

    def depth(self, fine: FloatArray, factor: FloatArray, shade: FloatArray) -> FloatArray:
        """Solve fine = (factor + absorbed) d + shade turned(d) for the depth d: a quadratic."""
        straight = factor + self.absorbed
        bend = SATURATION * self.aside
        b = straight + shade * self.aside - fine * bend
        a = straight * bend
        return np.asarray(2 * fine / (b + np.sqrt(b**2 + 4 * a * fine)))


def explain(
    channels: tuple[ChannelDepths | None, ...],
    bars_mm: tuple[float, float],
    path_mm: float,
    light: StandLight,
) -> tuple[BeamAttenuation, ...]:
    """Find the attenuation in each channel that explains fine bars, coarse bars and veil.

    Parameters
    ----------
    channels : tuple of ChannelDepths or None
        For R, G, B; None where the fine bars are lost.
    bars_mm : tuple of float
        Width of the fine and of the coarse bars [mm].
    path_mm : float
        Path through the water [mm].
    light : StandLight
        How the stand's light falls, from the clear-water reference.

    Returns
    -------
    tuple of BeamAttenuation
        One for each channel that is not None, in their order.
    """
    seen = [one for one in channels if one is not None]
    if not seen:
        return ()
    lit = [_without(one, gain) for gain in GAINS for one in seen]
    every = _grids([*seen, *lit], bars_mm, path_mm, light)
    grids, *darker = (every[k : k + len(seen)] for k in range(0, len(every), len(seen)))
    likelihoods = [grid.over_albedo for grid in grids]
    misfit = _misfit(grids)
    prior = (
        -(((ASYMMETRIES - USUAL_ASYMMETRY) / ASYMMETRY_STD) ** 2) / 2
        - BELIEFS[:, None] ** 2 / 2
        - BELIEFS[:, None, None] ** 2 / 2
    )
    better = _log_odds_of_gains(likelihoods, darker, prior)
    answers = []
    for number, (grid, one) in enumerate(zip(grids, seen, strict=True)):
        others = sum((likelihoods[k] for k in range(len(likelihoods)) if k != number), prior)
        found = _average(grid, one, np.asarray(others), path_mm, misfit)
        answers.append(
            replace(
                found,
                brightened_std=float(np.sqrt(max(2 * better.max(), 0.0))),
                brightened_depth=_mean_gain(better),
            )
        )
    return tuple(answers)


def _without(seen: ChannelDepths, gain: float) -> ChannelDepths:
    """Take a gain of light, a logarithm, from bars and veil."""
    return replace(
        seen, fine=seen.fine + gain, coarse=seen.coarse + gain, veil=seen.veil * np.exp(-gain)
    )


def _log_odds_of_gains(
    likelihoods: list[FloatArray], darker: list[list[_Grid]], prior: FloatArray
) -> FloatArray:
    """How much better each gain of light explains what is seen than none does."""
    with_gain = [_evidence([grid.over_albedo for grid in grids], prior) for grids in darker]
    return np.array(with_gain) - _evidence(likelihoods, prior)


def _mean_gain(log_odds: FloatArray) -> float:
    """Mean of the light that may have been added, none being one of the choices."""
    top = max(float(log_odds.max()), 0.0)
    weights = GAIN_ODDS / len(GAINS) * np.exp(log_odds - top)
    none = (1 - GAIN_ODDS) * np.exp(-top)
    return float(weights @ np.array(GAINS) / (weights.sum() + none))


def _evidence(likelihoods: list[FloatArray], prior: FloatArray) -> float:
    """Logarithm of the likelihood averaged over g, S and A."""
    total = np.asarray(sum(likelihoods, prior))
    top = float(total.max())
    return top + float(np.log(np.exp(total - top).sum()))


def _grids(
    cases: Sequence[ChannelDepths], bars_mm: tuple[float, float], path_mm: float, light: StandLight
) -> list[_Grid]:
    """Work out the grids of several cases at once: arrays have these as their first axis."""
    rows = [(one.fine, one.coarse, one.coarse_std, one.veil) for one in cases]
    seen, seen_coarse, coarse_std, seen_veil = np.array(rows).T[..., None, None, None]
    albedo, g = ALBEDOS[:, None, None], ASYMMETRIES
    shade = np.maximum(light.shade + light.shade_std * BELIEFS, LEAST_SHADE)[:, None]
    fine, coarse = (_bar_factors(bar, path_mm, seen) for bar in bars_mm)
    shading = _Shading(aside=albedo * (1 - g), absorbed=light.absorbed * (1 - albedo))
    measured = np.maximum(seen, LEAST_DEPTH)
    slope = shading.depth(measured, fine, shade) / measured
    depth = slope * np.maximum(seen, LEAST_DEPTH / 10)
    turned = shading.turned(depth)
    expected = (coarse + shading.absorbed) * depth + light.coarse * turned
    coarse_term = _coarse_term(seen_coarse, coarse_std, expected, light.coarse_std * turned)
    veil, shown = _log_veil_shape(albedo, g, depth), np.maximum(seen_veil, LEAST_VEIL)
    veil_std = np.hypot(VEIL_STD, VEIL_NOISE / shown) * np.sqrt(2)
    gain = (light.log_veil + light.log_veil_std * BELIEFS)[:, None, None, None]
    off = ((np.log(shown) - veil) / veil_std)[:, None] - gain / veil_std[:, None]
    likelihood = coarse_term[:, None] - off**2
    over_albedo = _over_albedo(likelihood)
    return [
        _Grid(depth=each[0], slope=each[1], log_likelihood=each[2], over_albedo=each[3])
        for each in zip(depth, slope, likelihood, over_albedo, strict=True)
    ]


def _coarse_term(
    seen: FloatArray, seen_std: FloatArray, expected: FloatArray, light_std: FloatArray
) -> FloatArray:
    """Log likelihood of the coarse bars' depth; 0 where they are not used: an infinite error."""
    used = np.isfinite(seen_std)
    errors = (np.where(used, seen_std, 0), MODEL_STD * expected, light_std)
    std = np.sqrt(sum(error**2 for error in errors))
    least = std.min(axis=(1, 2, 3), keepdims=True)
    return np.asarray(used * (-(((seen - expected) / std) ** 2) / 2 - np.log(std / least)))


def _bar_factors(bar_mm: float, path_mm: float, depth: FloatArray) -> FloatArray:
    """Contrast lost over attenuation on the grid (case, albedo, 1, g)."""
    attenuation = np.maximum(depth, 0.0) / (path_mm / 1000)
    factor = bar_factor(bar_mm, path_mm, ASYMMETRIES, ALBEDOS[:, None, None], attenuation)
    return factor if bar_mm > NARROW_MM else 1 - FORWARD * (1 - factor)


def _log_veil_shape(albedo: FloatArray, g: FloatArray, depth: FloatArray) -> FloatArray:
    """Logarithm of the veil over A; never below that of a millionth."""
    x = albedo * (1 - g) ** VEIL_SIDEWAYS * depth
    bent = 1 + VEIL_BEND * x + VEIL_ABSORBED * (1 - albedo) * depth
    return np.maximum(np.log(x) - VEIL_POWER * np.log(bent), np.log(1e-6))


def _over_albedo(log_likelihood: FloatArray) -> FloatArray:
    """Sum the likelihood over the albedo: (case, A, S, g)."""
    top = log_likelihood.max(axis=2)
    total = np.exp(log_likelihood - top[:, :, np.newaxis]).sum(axis=2)
    return np.asarray(np.log(total) + top)


def _misfit(grids: list[_Grid]) -> float:
    """How far the best of all waters is from what is seen, in standard errors."""
    best = sum((grid.log_likelihood.max(axis=1) for grid in grids), np.zeros(1))
    beliefs = BELIEFS[:, None] ** 2 + BELIEFS[:, None, None] ** 2
    return float(np.sqrt(max(-2 * float((best - beliefs / 2).max()), 0.0)))


def _average(
    grid: _Grid, seen: ChannelDepths, others: FloatArray, path_mm: float, misfit: float
) -> BeamAttenuation:
    """Average over the grid by its posterior weight."""
    log_weight = grid.log_likelihood + others[:, None]
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    over_gain = weight.sum(axis=0)
    depth = float((over_gain * grid.depth).sum())
    spread = float((over_gain * (grid.depth - depth) ** 2).sum())
    slope = float((over_gain * grid.slope).sum())
    depth += slope * min(seen.fine - LEAST_DEPTH / 10, 0.0)
    noise = (slope * seen.fine_std) ** 2 + (MODEL_STD * depth) ** 2
    metres = path_mm / 1000
    return BeamAttenuation(
        value_per_m=depth / metres,
        std_per_m=float(np.sqrt(spread + noise)) / metres,
        asymmetry=float((over_gain.sum(axis=(0, 1)) * ASYMMETRIES).sum()),
        factor=1 / slope if slope > 0 else 1.0,
        misfit_std=misfit,
    )
