"""How fast the stripes' contrast decays along the sight line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.reference.ladder.slopes import SlopeFit

if TYPE_CHECKING:
    from greasecheck.model import BoolArray, FloatArray

ROUNDS = 6
FEWEST_BINS = 3
# Depths down to which `near_per_m` and `far_per_m` of `SlopeFit` are fitted.
NEAR_MM, FAR_MM = 60.0, 110.0
LEAST_SHARE = 0.02  # of dry white: contrast below it is not fitted
# Relative misfit of an exponential allowed at each depth: it sets how much the strong, upper
# part of the decay counts. With half of it, slopes of a good photo follow the upper bars more.
MISFIT = 0.03
STEEPEST_PER_M = 400.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """What the stripes send up from each depth, in units of dry white.

    Attributes
    ----------
    depth_mm : ndarray, shape (n,)
        Depths below the surface, ascending [mm].
    mirrors_black : ndarray of bool, shape (n,)
        Where the water mirrors printed black into the sight line. Elsewhere it adds unknown light,
        which leaves contrast as it is, but not contrast over white.
    path_m : ndarray, shape (n,)
        Way of the sight line through the water to each [m].
    fine, coarse : ndarray, shape (n,)
        Light of white less that of black stripes, of 3 and of 8 mm.
    white : ndarray, shape (n,)
        Light of the white stripes of 8 mm.
    fine_std, coarse_std, white_std : ndarray, shape (n,)
        Their standard errors.
    """

    depth_mm: FloatArray
    mirrors_black: BoolArray
    path_m: FloatArray
    fine: FloatArray
    coarse: FloatArray
    white: FloatArray
    fine_std: FloatArray
    coarse_std: FloatArray
    white_std: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Decay:
    """An exponential fitted to each of many draws of one series.

    Attributes
    ----------
    slope_per_m : ndarray, shape (draws,)
        Its decay [1/m]; NaN where too few depths show anything.
    start : ndarray, shape (draws,)
        Its value at no path.
    """

    slope_per_m: FloatArray
    start: FloatArray


def fit_decay(
    path_m: FloatArray, values: FloatArray, std: FloatArray, least: float | FloatArray
) -> Decay:
    """Fit A exp(-s x) with free A by weighted least squares.

    Parameters
    ----------
    path_m : ndarray, shape (n,)
        x [m].
    values : ndarray, shape (draws, n)
        The series.
    std : ndarray, shape (n,)
        Standard errors of the values.
    least : float or ndarray, shape (n,)
        Values expected below this are left out.

    Examples
    --------
    >>> path = np.linspace(0.01, 0.1, 10)
    >>> found = fit_decay(path, np.exp(-20 * path)[np.newaxis], np.full(10, 1e-3), 0.02)
    >>> round(float(found.slope_per_m[0]), 6)
    20.0
    """
    start, slope = _first_guess(path_m, values, least)
    used = _used(path_m, values, start, slope, least)
    for _ in range(ROUNDS):
        start, slope = _improved(path_m, values, std, used, (start, slope))
        used = _used(path_m, values, start, slope, least)
    slope = np.where(used.sum(axis=1) >= FEWEST_BINS, slope, np.nan)
    return Decay(slope_per_m=slope, start=start)


def _first_guess(
    path_m: FloatArray, values: FloatArray, least: float | FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Fit a straight line to the logarithms of what is well above the least."""
    clear = np.cumprod(values > 1.5 * np.broadcast_to(least, values.shape), axis=1)
    clear[:, :FEWEST_BINS] = 1
    logs = np.log(np.maximum(values, 1e-6))
    count = clear.sum(axis=1)
    mean_x, mean_y = (clear * path_m).sum(axis=1) / count, (clear * logs).sum(axis=1) / count
    away = clear * (path_m - mean_x[:, None])
    slope = -(away * logs).sum(axis=1) / (away * away).sum(axis=1)
    slope = np.clip(slope, -5.0, STEEPEST_PER_M)
    return np.exp(mean_y + slope * mean_x), slope


def _used(
    path_m: FloatArray,
    values: FloatArray,
    start: FloatArray,
    slope: FloatArray,
    least: float | FloatArray,
) -> BoolArray:
    """Choose the depths down to where the fit falls below the least."""
    expected = start[:, None] * np.exp(-slope[:, None] * path_m)
    shown: BoolArray = np.cumprod(expected > least, axis=1).astype(np.bool_)
    return shown & np.isfinite(values)


def _improved(
    path_m: FloatArray,
    values: FloatArray,
    std: FloatArray,
    used: BoolArray,
    guess: tuple[FloatArray, FloatArray],
) -> tuple[FloatArray, FloatArray]:
    """Take one step of Gauss and Newton in the logarithm of A and in s."""
    start, slope = guess
    expected = start[:, None] * np.exp(-slope[:, None] * path_m)
    weight = np.where(used, 1 / ((MISFIT * expected) ** 2 + std**2), 0.0)
    rise, fall = expected, -path_m * expected
    miss = np.where(used, values - expected, 0.0)
    a, b, d = ((weight * p).sum(axis=1) for p in (rise * rise, rise * fall, fall * fall))
    e, f = (weight * rise * miss).sum(axis=1), (weight * fall * miss).sum(axis=1)
    whole = a * d - b * b
    sound = whole > 1e-12 * a * d + 1e-300
    whole = np.where(sound, whole, 1.0)
    step_log = np.where(sound, (d * e - b * f) / whole, 0.0)
    step_slope = np.where(sound, (a * f - b * e) / whole, 0.0)
    return (
        start * np.exp(np.clip(step_log, -1.0, 1.0)),
        np.clip(slope + np.clip(step_slope, -50.0, 50.0), -5.0, STEEPEST_PER_M),
    )


def fit_slopes(profile: Profile, draws: int = 0, seed: int = 0) -> SlopeFit:
    """Fit all decays of a profile, and of copies with its own noise.

    Parameters
    ----------
    profile : Profile
        What was seen.
    draws : int
        How many noisy copies follow the fit to the profile itself.
    seed : int
        Of their noise.

    Returns
    -------
    SlopeFit
        Arrays of shape (1 + draws,): the fit itself first.
    """
    rng = np.random.default_rng(seed)
    fine = _with_copies(profile.fine, profile.fine_std, draws, rng)
    coarse = _with_copies(profile.coarse, profile.coarse_std, draws, rng)
    white = np.maximum(_with_copies(profile.white, profile.white_std, draws, rng), 1e-3)
    path, shares = profile.path_m, coarse / white
    std = profile.coarse_std / white[0]
    least = LEAST_SHARE / white[0]
    near = (profile.depth_mm <= NEAR_MM) & profile.mirrors_black
    far = (profile.depth_mm <= FAR_MM) & profile.mirrors_black
    return SlopeFit(
        fine_per_m=fit_decay(path, fine, profile.fine_std, LEAST_SHARE).slope_per_m,
        coarse_per_m=fit_decay(path, coarse, profile.coarse_std, LEAST_SHARE).slope_per_m,
        near_per_m=fit_decay(path[near], shares[:, near], std[near], least[near]).slope_per_m,
        far_per_m=fit_decay(path[far], shares[:, far], std[far], least[far]).slope_per_m,
        white_per_m=fit_decay(path[near], white[:, near], profile.white_std[near], 0.0).slope_per_m,
    )


def fit_loss(profile: Profile, draws: int = 0, seed: int = 0) -> FloatArray:
    """Return the logarithm of the decay of 3 mm over that of 8 mm, shape (1 + draws,).

    Parameters and draws as of `fit_slopes`; NaN where nothing shows.
    """
    rng = np.random.default_rng(seed)
    fine = _with_copies(profile.fine, profile.fine_std, draws, rng)
    coarse = _with_copies(profile.coarse, profile.coarse_std, draws, rng)
    above = fit_decay(profile.path_m, fine, profile.fine_std, LEAST_SHARE).slope_per_m
    below = fit_decay(profile.path_m, coarse, profile.coarse_std, LEAST_SHARE).slope_per_m
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.log(above / below))


def _with_copies(
    values: FloatArray, std: FloatArray, draws: int, rng: np.random.Generator
) -> FloatArray:
    noise = rng.standard_normal((draws, len(values))) * std
    return np.concatenate([values[np.newaxis], values + noise])
