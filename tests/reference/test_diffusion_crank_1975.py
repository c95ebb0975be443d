"""Diffusion out of sheets and spheres: J. Crank, The Mathematics of Diffusion, 2nd ed., 1975.

All equations from memory. Time is counted so that the slowest rate is 1: for a sheet of half
thickness l, D t / l^2 = 4 t / pi^2; for a sphere of radius a, D t / a^2 = t / pi^2.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import erfc

from greasecheck.predict.model.kinetics import Spectrum
from greasecheck.predict.model.leaching import (
    Network,
    bath_haze,
    decay,
    entry_weights,
    modes_of,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

TERMS = 120  # of each series; the last ones hold less than this of the grease
CUT_TERMS = 0.006
TIMES = (0.003, 0.02, 0.1, 0.3, 1.0, 2.5)
ALPHAS = (0.25, 1.0, 4.0)


def sheet_spectrum() -> Spectrum:
    """Return the plane sheet as pools, eq. 4.18."""
    odd = 2 * np.arange(TERMS, dtype=np.float64) + 1
    return _pools(odd**2, 8 / (np.pi * odd) ** 2)


def sphere_spectrum() -> Spectrum:
    """Return the sphere as pools, eq. 6.20."""
    order = np.arange(TERMS, dtype=np.float64) + 1
    return _pools(order**2, 6 / (np.pi * order) ** 2)


def _pools(ratios: NDArray[np.float64], weights: NDArray[np.float64]) -> Spectrum:
    weights[-1] += 1 - weights.sum()
    return Spectrum(ratios=ratios[:, None], weights=weights[:, None])


def _ierfc(x: float) -> float:
    return float(np.exp(-(x**2)) / np.sqrt(np.pi) - x * erfc(x))


def _left(spectrum: Spectrum, time: float) -> float:
    return float((spectrum.weights * np.exp(-spectrum.ratios * time)).sum())


@pytest.mark.parametrize("time", TIMES)
def test_sheet_in_fresh_water_follows_the_short_time_series(time: float) -> None:
    # eq. 4.20
    s = 4 * time / np.pi**2
    terms = [(-1) ** n * _ierfc(n / np.sqrt(s)) for n in range(1, 40)]
    left = 1 - 2 * np.sqrt(s) * (1 / np.sqrt(np.pi) + 2 * sum(terms))
    assert _left(sheet_spectrum(), time) == pytest.approx(left, abs=CUT_TERMS)


@pytest.mark.parametrize("time", TIMES)
def test_sphere_in_fresh_water_follows_the_short_time_series(time: float) -> None:
    # eq. 6.22
    s = time / np.pi**2
    terms = [_ierfc(n / np.sqrt(s)) for n in range(1, 40)]
    left = 1 - 6 * np.sqrt(s) * (1 / np.sqrt(np.pi) + 2 * sum(terms)) + 3 * s
    assert _left(sphere_spectrum(), time) == pytest.approx(left, abs=CUT_TERMS)


def test_half_the_grease_leaves_a_sheet_at_the_published_half_time() -> None:
    # eq. 10.1: D t / L^2 = 0.049 for the whole thickness L = 2 l
    half = brentq(lambda t: _left(sheet_spectrum(), t) - 0.5, 0.1, 2.0)
    assert half / np.pi**2 == pytest.approx(0.049, abs=0.0005)


def _gone_into_bath(spectrum: Spectrum, alpha: float, time: float) -> float:
    """Return the bath's haze over that at equilibrium, from the fitted network."""
    network = Network(
        rates_per_day=spectrum.ratios, shares=spectrum.weights, partition=np.array([alpha])
    )
    modes = modes_of(network)
    weights = entry_weights(modes, spectrum.weights) * decay(modes, np.array([[time]]))[0]
    return float(bath_haze(modes, weights)[0] * (1 + alpha) / alpha)


def _roots(low: float, count: int, function: Callable[[float], float]) -> NDArray[np.float64]:
    edges = low + np.pi * np.arange(count)
    return np.array([brentq(function, edge + 1e-9, edge + np.pi - 1e-9) for edge in edges])


@pytest.mark.parametrize("alpha", ALPHAS)
@pytest.mark.parametrize("time", TIMES)
def test_sheet_in_a_stirred_bath_of_limited_volume(time: float, alpha: float) -> None:
    # eq. 4.37 with tan q = -alpha q (eq. 4.38)
    q = _roots(np.pi / 2, 400, lambda x: np.sin(x) + alpha * x * np.cos(x))
    s = 4 * time / np.pi**2
    series = 2 * alpha * (1 + alpha) / (1 + alpha + alpha**2 * q**2) * np.exp(-(q**2) * s)
    gone = 1 - series.sum()
    assert _gone_into_bath(sheet_spectrum(), alpha, time) == pytest.approx(gone, abs=0.005)


@pytest.mark.parametrize("alpha", ALPHAS)
@pytest.mark.parametrize("time", TIMES)
def test_sphere_in_a_stirred_bath_of_limited_volume(time: float, alpha: float) -> None:
    # eq. 6.30 with tan q = 3 q / (3 + alpha q^2) (eq. 6.31)
    q = _roots(np.pi, 400, lambda x: np.sin(x) * (3 + alpha * x**2) - 3 * x * np.cos(x))
    s = time / np.pi**2
    series = 6 * alpha * (alpha + 1) / (9 + 9 * alpha + q**2 * alpha**2) * np.exp(-(q**2) * s)
    gone = 1 - series.sum()
    assert _gone_into_bath(sphere_spectrum(), alpha, time) == pytest.approx(gone, abs=0.01)
