"""The answer of three channels and two widths, derived a second time from the module's text.

Every constant stands here as a number, and the depth is found by halving instead of a quadratic.
"""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import special

from greasecheck.measure.sight.stand_light import StandLight
from greasecheck.measure.water.scatter import bar_factor
from greasecheck.measure.water.spectral import ChannelDepths, explain

FloatArray = NDArray[np.float64]
LIGHT = StandLight(
    shade=0.3,
    shade_std=0.15,
    coarse=-0.2,
    coarse_std=0.06,
    absorbed=1.3,
    log_veil=-0.17,
    log_veil_std=0.12,
)
G = np.linspace(0.45, 0.97, 27)[:, None, None, None]
BELIEF = np.array([-2.0, -1.0, 0.0, 1.0, 2.0])
SHADE = np.maximum(LIGHT.shade + LIGHT.shade_std * BELIEF[None, :, None, None], 0.05)
ALBEDO = 1 - np.geomspace(0.008, 0.7, 14)[None, None, :, None]
GAIN = LIGHT.log_veil + LIGHT.log_veil_std * BELIEF[None, None, None, :]
PRIOR = (
    -(((G - 0.72) / 0.16) ** 2) / 2
    - BELIEF[None, :, None, None] ** 2 / 2
    - BELIEF[None, None, None, :] ** 2 / 2
)
PATH_M = 0.06
FORWARD, SATURATION = 0.687, 1.116


def lost(depth: FloatArray, shade: FloatArray | float) -> FloatArray:
    """Return the logarithm of the bars' light that water takes."""
    aside = ALBEDO * (1 - G) * depth
    return np.asarray(shade * aside / (1 + SATURATION * aside) + 1.3 * (1 - ALBEDO) * depth)


def solved(fine: float, factor: FloatArray) -> FloatArray:
    """Return the depth that gives what the fine bars show, by halving."""
    low, high = np.zeros(factor.shape), np.full(factor.shape, 100.0)
    for _ in range(60):
        middle = (low + high) / 2
        short = factor * middle + lost(middle, SHADE) < fine
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return low


def likelihood(seen: ChannelDepths) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return depth, its slope and the log likelihood on the grid of g, S, albedo and A."""
    per_m = max(seen.fine, 0.0) / PATH_M
    g, albedo = np.broadcast_arrays(G[..., 0], ALBEDO[..., 0])
    fine, coarse = (
        np.repeat(1 - kept * (1 - bar_factor(bar, 60.0, g, albedo, per_m))[..., None], 5, axis=1)
        for bar, kept in ((2.0, FORWARD), (8.0, 1.0))
    )
    near = max(seen.fine, 0.02)
    slope = solved(near, fine) / near
    depth = slope * max(seen.fine, 0.002)
    turned = lost(depth, 1.0) - lost(depth, 0.0)
    expected = coarse * depth + lost(depth, -0.2)
    by_coarse = np.zeros_like(expected)
    if np.isfinite(seen.coarse_std):
        std = np.sqrt(seen.coarse_std**2 + (0.02 * expected) ** 2 + (0.06 * turned) ** 2)
        by_coarse = -(((seen.coarse - expected) / std) ** 2) / 2 - np.log(std / std.min())
    x = ALBEDO * (1 - G) ** 0.093 * depth
    veil = np.log(x / (1 + 0.254 * x + 1.434 * (1 - ALBEDO) * depth) ** 2.703) + GAIN
    least = max(seen.veil, 1e-3)
    by_veil = -(((np.log(least) - veil) / np.hypot(0.12, 0.004 / least)) ** 2) / 2
    return depth, slope, by_coarse + by_veil


def evidence(channels: tuple[ChannelDepths, ...]) -> float:
    """Return the log likelihood of what is seen, averaged over all that is not known."""
    albedo_too = [special.logsumexp(likelihood(one)[2], axis=2, keepdims=True) for one in channels]
    return float(special.logsumexp(PRIOR + sum(albedo_too)))


def brightened(channels: tuple[ChannelDepths, ...]) -> tuple[float, float]:
    """Return how surely light was added to bars and veil alike, and its mean logarithm.

    Tried are 5, 10 and 20 %, together as likely as one in twenty before anything is seen.
    """
    gains = np.array([0.05, 0.10, 0.20])
    better = np.array(
        [
            evidence(
                tuple(
                    replace(
                        one,
                        fine=one.fine + gain,
                        coarse=one.coarse + gain,
                        veil=one.veil * np.exp(-gain),
                    )
                    for one in channels
                )
            )
            for gain in gains
        ]
    ) - evidence(channels)
    odds = 0.05 / 3 * np.exp(better)
    mean = float(odds @ gains / (odds.sum() + 0.95))
    return float(np.sqrt(max(2 * better.max(), 0.0))), mean


CASES = {
    "milky": ((1.2, 1.15, 0.25), (1.5, 1.4, 0.27), (2.1, 1.9, 0.28)),
    "brown": ((0.5, 0.46, 0.06), (1.1, 1.0, 0.05), (2.4, 2.3, 0.03)),
    "faint": ((0.011, 0.012, 0.004), (0.016, 0.01, 0.0), (0.03, 0.02, 0.006)),
    "clearer": ((-0.05, -0.04, 0.0), (0.001, 0.0, 0.0), (0.003, 0.004, 0.001)),
}


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("coarse_std", [0.012, np.inf])
def test_explained_as_by_the_text(name: str, coarse_std: float) -> None:
    channels = tuple(
        ChannelDepths(fine=fine, fine_std=0.011, coarse=coarse, coarse_std=coarse_std, veil=veil)
        for fine, coarse, veil in CASES[name]
    )
    parts = [likelihood(one) for one in channels]
    over_albedo = [np.log(np.exp(log).sum(axis=2, keepdims=True)) for _, _, log in parts]
    best = sum(log.max(axis=2, keepdims=True) for _, _, log in parts)
    beliefs = BELIEF[None, :, None, None] ** 2 + BELIEF[None, None, None, :] ** 2
    misfit = np.sqrt(max(-2 * float((best - beliefs / 2).max()), 0.0))
    brightened_std, brightened_depth = brightened(channels)
    for k, found in enumerate(explain(channels, (2.0, 8.0), 60.0, LIGHT)):
        depth, slope, log = parts[k]
        total = log + PRIOR + sum(over_albedo[j] for j in range(3) if j != k)
        weight = np.exp(total - total.max())
        weight /= weight.sum()
        mean = float((weight * depth).sum())
        spread = float((weight * (depth - mean) ** 2).sum())
        gain = float((weight * slope).sum())
        mean += gain * min(channels[k].fine - 0.002, 0.0)
        std = np.sqrt(spread + (gain * 0.011) ** 2 + (0.02 * mean) ** 2)
        assert found.value_per_m == pytest.approx(mean / PATH_M, rel=1e-6)
        assert found.std_per_m == pytest.approx(std / PATH_M, rel=1e-6)
        assert found.asymmetry == pytest.approx(float((weight * G).sum()), rel=1e-6)
        assert found.factor == pytest.approx(1 / gain, rel=1e-6)
        assert found.misfit_std == pytest.approx(misfit, rel=1e-6)
        assert found.brightened_std == pytest.approx(brightened_std, rel=1e-6)
        assert found.brightened_depth == pytest.approx(brightened_depth, rel=1e-6)
