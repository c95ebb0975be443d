"""Bones that give their grease to a bath: linear systems with known truth, stepped hour by hour.

It shares nothing with the package's fitted model: the plain, unsymmetrised rate matrix is stepped
with matrix exponentials (Pade), and diffusion runs on shells of a real sphere or slices of a real
sheet (finite volumes), not by its series.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.linalg import expm
from scipy.optimize import brentq

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]

THRESHOLD_PER_M = 3.0
SOAK_DAYS = 3.0
SHEET, SPHERE = 1, 3
GAS_CONSTANT = 8.314462618
REFERENCE_K = 313.15
SERIES_TERMS = 400
CELLS = 60
SLOWEST_DIFFUSION_PER_DAY = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Bone:
    """A linear leaching system: grease leaves cells, the last state is the bath.

    Attributes
    ----------
    matrix_per_day : ndarray, shape (n + 1, n + 1)
        Rate matrix at reference pace [1/day].
    start_per_m : ndarray, shape (n + 1,)
        Amounts at the start [1/m].
    """

    matrix_per_day: FloatArray
    start_per_m: FloatArray


def pace_at(temperature_c: float, activation_kj_per_mol: float) -> float:
    """Return how much quicker than at 40 degrees C a bone leaches (Arrhenius)."""
    slowness = 1 / REFERENCE_K - 1 / (temperature_c + 273.15)
    return float(np.exp(1000 * activation_kj_per_mol / GAS_CONSTANT * slowness))


def pool_system(rates: FloatArray, grease: FloatArray, partition: float) -> Bone:
    """Return pools in parallel, each exchanging with the bath."""
    size = len(rates)
    capacity = grease / grease.sum()
    matrix = np.zeros((size + 1, size + 1))
    matrix[:size, :size] = -np.diag(rates)
    matrix[:size, size] = rates * capacity / partition
    matrix[size] = -matrix[:size].sum(axis=0)
    return Bone(matrix_per_day=matrix, start_per_m=np.append(grease, 0.0))


def diffusion_system(dimensions: int, diffusivity: float, grease: float, partition: float) -> Bone:
    """Return shells of a sphere (or slices of half a sheet) of unit size, finest at the surface.

    `diffusivity` is in squared radii (or half thicknesses) per day.
    """
    edges = 1 - (1 - np.linspace(0, 1, CELLS + 1)) ** 3
    volume = np.diff(edges**dimensions)
    centre = (edges[1:] + edges[:-1]) / 2
    area = dimensions * edges[1:] ** (dimensions - 1)
    distance = np.append(np.diff(centre), 1 - centre[-1])
    conductance = diffusivity * area / distance
    matrix = np.zeros((CELLS + 1, CELLS + 1))
    room = np.append(volume, partition)
    for inner in range(CELLS):
        outer = inner + 1
        flow = conductance[inner]
        matrix[inner, inner] -= flow / room[inner]
        matrix[outer, inner] += flow / room[inner]
        matrix[inner, outer] += flow / room[outer]
        matrix[outer, outer] -= flow / room[outer]
    return Bone(matrix_per_day=matrix, start_per_m=np.append(grease * volume, 0.0))


def clearing_pools(
    parts: FloatArray, ratios: FloatArray, days: float, gain_per_m: float, partition: float
) -> Bone:
    """Return pools of which a fresh soak gains so much at first, and 3 per metre after `days`.

    `parts` are their shares of the first gain, `ratios` their rates over the slowest one's.
    """

    def excess(rate: float) -> float:
        return float(gain_per_m * parts @ np.exp(-ratios * rate * days) - THRESHOLD_PER_M)

    rates = ratios * brentq(excess, 1e-9, 10.0, xtol=1e-14)
    grease = gain_per_m * parts / (1 - np.exp(-rates * SOAK_DAYS))
    return pool_system(rates, grease, partition)


def clearing_diffusion(
    dimensions: int, days: float, gain_per_m: float, partition: float
) -> Bone | None:
    """Return a sheet or sphere by the same measure; None where none falls so far so soon."""

    def excess(rate: float) -> float:
        late = _left(dimensions, rate, days) - _left(dimensions, rate, days + SOAK_DAYS)
        return late / (1 - _left(dimensions, rate, SOAK_DAYS)) - THRESHOLD_PER_M / gain_per_m

    low, high = SLOWEST_DIFFUSION_PER_DAY, 1.0
    if not excess(low) > 0 > excess(high):
        return None
    rate = float(brentq(excess, low, high, xtol=1e-12))
    grease = gain_per_m / (1 - _left(dimensions, rate, SOAK_DAYS))
    diffusivity = rate / np.pi**2 if dimensions == SPHERE else 4 * rate / np.pi**2
    return diffusion_system(dimensions, diffusivity, grease, partition)


def _left(dimensions: int, rate: float, days: float) -> float:
    """Return the share left in a fresh bath, by many terms of Crank's series (4.18, 6.20)."""
    n = np.arange(SERIES_TERMS)
    if dimensions == SHEET:
        odd = 2 * n + 1.0
        return float((8 / (np.pi * odd) ** 2 * np.exp(-(odd**2) * rate * days)).sum())
    order = n + 1.0
    return float((6 / (np.pi * order) ** 2 * np.exp(-(order**2) * rate * days)).sum())


def hourly_states(
    bone: Bone, changes: Collection[int], paces: FloatArray, carry_over: float
) -> Iterator[FloatArray]:
    """Yield the amounts [1/m] at the start of each hour, before the change that falls into it.

    `paces` tells how much quicker than at reference it leaches in each hour.
    """
    steps = {pace: expm(bone.matrix_per_day * pace / 24) for pace in np.unique(paces)}
    state = bone.start_per_m
    for hour, pace in enumerate(paces):
        yield state
        if hour in changes:
            state = np.append(state[:-1], carry_over * state[-1])
        state = steps[pace] @ state
