"""What readings differ by from the best course: their own scatter, each bath's, and the model's.

Three of the parts are common to several readings: the soap and the pace of one bath, and a slow
drift of the pace that stands for what no form of the model describes. They are marginalised: the
readings' covariance holds them, and its sizes are learnt from the readings (empirical Bayes). So
is the factor that readings of one instrument share, of a size that is known.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import linalg

from greasecheck.predict.tables import spread

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import FloatArray
    from greasecheck.predict.model.timeline import Observations

# Without a source, where none is named.
SCATTER_FLOOR_PER_M = 0.1  # of any reading, however small an error it states
BLOOM_SHARE = 0.5  # scatter of what grows from bath to bath, as a share of it
DRIFT_DAYS = 30.0  # how long the drift keeps its sign
TAIL_FREEDOM = 4.0  # Student t; Lange, Little & Taylor 1989, J. Am. Stat. Assoc. 84, 881
PARTS = ("scatter", "fresh", "pace", "drift")
LONGEST_STEP = 1.0  # of the log of a size
LAST_STEP = 0.05  # 20 readings tell a size to 0.16
FARTHEST = 5.0  # standard deviations of the log of a size; readings of any kind reach no farther
SHORTER = 4.0  # times: the next step after one that made the sizes less probable
MOST_STEPS = 12  # of the sizes in one round
REWEIGHTINGS = 2  # rounds in which odd readings are weighed less, then the sizes learnt


@dataclass(frozen=True, slots=True, kw_only=True)
class Noise:
    """Sizes of what readings differ by, as shares.

    Attributes
    ----------
    scatter : float
        Of one reading, of its haze.
    fresh : float
        Of a fresh bath's haze, common to a bath.
    pace : float
        Of the rise in one bath.
    drift : float
        Of the rise, slowly over the baths: the model's own misfit.
    """

    scatter: float
    fresh: float
    pace: float
    drift: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What one set of parameters expects of the readings, each of shape (readings,) [1/m]."""

    fresh: FloatArray
    rise: FloatArray
    bloom: FloatArray

    @property
    def haze(self) -> FloatArray:
        """Return the whole haze."""
        return self.fresh + self.rise + self.bloom


@dataclass(frozen=True, slots=True, kw_only=True)
class Whitening:
    """The readings' covariance, held fixed while parameters vary.

    Attributes
    ----------
    noise : Noise
        Its sizes.
    plain : ndarray of bool, shape (readings,)
        Readings that are no bounds.
    root : ndarray, shape (plain, plain)
        Inverse of the Cholesky factor: white residuals are root @ (reading - expected).
    bound_std : ndarray, shape (bounds, 1)
        Standard deviations of readings that are bounds [1/m].
    weights : ndarray, shape (plain,)
        How far each reading counts, 1 for most: Student's t as a mixture of normal laws.
    robust : bool
        Whether white residuals follow Student's t each: before it is known which are odd.
    """

    noise: Noise
    plain: NDArray[np.bool_]
    root: FloatArray
    bound_std: FloatArray
    weights: FloatArray
    robust: bool = False


def usual_noise() -> Noise:
    """Return the sizes before any reading."""
    return Noise(**{part: spread(f"{part}_share").median for part in PARTS})


def apart_std(seen: Observations, expected: Expected, noise: Noise) -> FloatArray:
    """Return the readings' scatter as if each had its own, shape (readings,) [1/m]."""
    own = np.hypot(seen.std_per_m, SCATTER_FLOOR_PER_M)
    share = np.linalg.norm([noise.scatter, noise.pace, noise.drift])
    gain = seen.log_gain_std * expected.haze
    std: FloatArray = np.sqrt(
        own**2 + (share * expected.haze) ** 2 + (noise.fresh * expected.fresh) ** 2 + gain**2
    )
    return std


def whiten_apart(seen: Observations, expected: Expected, noise: Noise) -> Whitening:
    """Return the covariance as if each reading had its own scatter, any of which may be odd."""
    plain = ~(seen.above | seen.below)
    std = apart_std(seen, expected, noise)
    return Whitening(
        noise=noise,
        plain=plain,
        root=np.diag(1 / std[plain]),
        bound_std=std[~plain][:, None],
        weights=np.ones(int(plain.sum())),
        robust=True,
    )


def whiten(seen: Observations, expected: Expected, near: Noise | None = None) -> Whitening:
    """Return the readings' covariance about what is expected, its sizes learnt from them.

    Parameters
    ----------
    seen : Observations
        The readings.
    expected : Expected
        By the best parameters so far.
    near : Noise, optional
        Where to begin; the usual sizes without it.
    """
    noise = near or usual_noise()
    plain = ~(seen.above | seen.below)
    weights = np.ones(int(plain.sum()))
    if len(weights) <= len(PARTS):
        return _whiten_by(seen, expected, noise, weights)
    layers = _layers(seen, expected, plain)
    residual = (seen.haze_per_m - expected.haze)[plain]
    for _ in range(REWEIGHTINGS):
        weights = _weights(layers.covariance(noise, weights), residual)
        noise = _learnt(layers, residual, weights, noise)
    return _whiten_by(seen, expected, noise, weights)


def _whiten_by(
    seen: Observations, expected: Expected, noise: Noise, weights: FloatArray
) -> Whitening:
    plain = ~(seen.above | seen.below)
    covariance = _layers(seen, expected, plain).covariance(noise, weights)
    return Whitening(
        noise=noise,
        plain=plain,
        root=_inverse_root(covariance),
        bound_std=apart_std(seen, expected, noise)[~plain][:, None],
        weights=weights,
    )


def _inverse_root(covariance: FloatArray) -> FloatArray:
    """Return the inverse of the Cholesky factor."""
    root: FloatArray = linalg.solve_triangular(
        np.linalg.cholesky(covariance), np.eye(len(covariance)), lower=True
    )
    return root


def covariance_of(
    seen: Observations, expected: Expected, noise: Noise, rows: NDArray[np.bool_]
) -> FloatArray:
    """Return the covariance of some readings about what is expected [1/m^2].

    Parameters
    ----------
    seen : Observations
        All readings.
    expected : Expected
        What is expected of them.
    noise : Noise
        The sizes of what they differ by.
    rows : ndarray of bool, shape (readings,)
        Which are asked for; none counts as odd, and a bound as a reading.
    """
    return _layers(seen, expected, rows).covariance(noise, np.ones(int(rows.sum())))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layers:
    """The parts of the covariance, each for a size of 1.

    Attributes
    ----------
    own, scatter : ndarray, shape (n,)
        Variances of each reading alone: what is known of it, and its own scatter.
    fixed : ndarray, shape (n, n)
        Covariance of known size.
    common : ndarray, shape (3, n, n)
        Covariances by the soap, the pace and the drift.
    """

    own: FloatArray
    scatter: FloatArray
    fixed: FloatArray
    common: FloatArray

    def covariance(self, noise: Noise, weights: FloatArray) -> FloatArray:
        """Return the covariance for some sizes, odd readings widened, shape (n, n)."""
        sizes = np.array([noise.fresh, noise.pace, noise.drift])
        whole: FloatArray = self.fixed + np.tensordot(sizes**2, self.common, axes=1)
        whole[np.diag_indices_from(whole)] += (self.own + noise.scatter**2 * self.scatter) / weights
        return whole


def _layers(seen: Observations, expected: Expected, plain: NDArray[np.bool_]) -> _Layers:
    bath, days = seen.moments.bath[plain], seen.moments.days[plain]
    fresh, rise, bloom = (part[plain] for part in (expected.fresh, expected.rise, expected.bloom))
    same = (bath[:, None] == bath).astype(float)
    pairs = np.outer(rise, rise)
    instrument = seen.instrument[plain]
    gain = (seen.log_gain_std * expected.haze)[plain]
    shared = (instrument[:, None] == instrument) * np.outer(gain, gain)
    return _Layers(
        own=seen.std_per_m[plain] ** 2 + SCATTER_FLOOR_PER_M**2,
        scatter=expected.haze[plain] ** 2,
        fixed=same * np.outer(bloom, bloom) * BLOOM_SHARE**2 + shared,
        common=np.stack(
            [
                same * np.outer(fresh, fresh),
                same * pairs,
                pairs * np.exp(-np.abs(days[:, None] - days) / DRIFT_DAYS),
            ]
        ),
    )


def _weights(covariance: FloatArray, residual: FloatArray) -> FloatArray:
    """Return how far each reading counts, by how odd it is among the others.

    Left out, a reading is missed by (C^-1 e)_i / (C^-1)_ii with variance 1 / (C^-1)_ii.
    """
    inverse, _ = _inverse(covariance)
    z2 = (inverse @ residual) ** 2 / np.diag(inverse)
    counted: FloatArray = np.minimum((TAIL_FREEDOM + 1) / (TAIL_FREEDOM + z2), 1.0)
    return counted


def _learnt(layers: _Layers, residual: FloatArray, weights: FloatArray, start: Noise) -> Noise:
    """Return the most probable sizes: quasi-Newton steps on their logs.

    References
    ----------
    A. R. Gilmour, R. Thompson, B. R. Cullis, Biometrics 51, 1440 (1995), for the curvature that is
    begun with: the average of observed and expected information needs no product of matrices.
    J. Nocedal, S. J. Wright, Numerical Optimization, 2nd ed., 2006, eq. 6.19 (BFGS). Both from
    memory.
    """
    logs = np.log([getattr(start, part) for part in PARTS])
    middle, stds = _log_sizes()
    reach = FARTHEST * stds
    here = _evidence(layers, residual, weights, logs)
    curvature = here.curvature
    for _ in range(MOST_STEPS):
        step = np.linalg.solve(curvature, here.slope).clip(-LONGEST_STEP, LONGEST_STEP)
        step = np.clip(logs + step, middle - reach, middle + reach) - logs
        there = _evidence(layers, residual, weights, logs + step)
        if there.height < here.height:
            curvature = SHORTER * curvature
            continue
        curvature = _updated(curvature, step, here.slope - there.slope)
        logs, here = logs + step, there
        if np.abs(step).max() < LAST_STEP:
            break
    return _noise_of(logs)


def _updated(curvature: FloatArray, step: FloatArray, fall: FloatArray) -> FloatArray:
    """Return the curvature that explains how the slope fell along a step (BFGS)."""
    bent = curvature @ step
    if fall @ step <= 0:
        return curvature
    updated: FloatArray = (
        curvature + np.outer(fall, fall) / (fall @ step) - np.outer(bent, bent) / (step @ bent)
    )
    return updated


def _log_sizes() -> tuple[FloatArray, FloatArray]:
    """Return the means and standard deviations of the logs of the sizes before any reading."""
    priors = [spread(f"{part}_share") for part in PARTS]
    return np.log([one.median for one in priors]), np.array([one.log_std for one in priors])


def _noise_of(logs: FloatArray) -> Noise:
    return Noise(**dict(zip(PARTS, np.exp(logs).tolist(), strict=True)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Evidence:
    """The log posterior of the sizes, its slope by their logs, and its curvature, about."""

    height: float
    slope: FloatArray
    curvature: FloatArray


def _evidence(
    layers: _Layers, residual: FloatArray, weights: FloatArray, logs: FloatArray
) -> _Evidence:
    noise = _noise_of(logs)
    inverse, log_det = _inverse(layers.covariance(noise, weights))
    solved = inverse @ residual
    changes = 2 * np.exp(2 * logs)
    alone = layers.scatter / weights
    pushed = changes[:, None] * np.vstack([alone * solved, layers.common @ solved])
    traces = changes * np.append(
        alone @ np.diag(inverse), np.tensordot(layers.common, inverse, axes=2)
    )
    middle, stds = _log_sizes()
    apart, precision = logs - middle, stds**-2
    return _Evidence(
        height=float(-0.5 * (log_det + residual @ solved + precision @ apart**2)),
        slope=0.5 * (pushed @ solved - traces) - precision * apart,
        curvature=0.5 * pushed @ inverse @ pushed.T + np.diag(precision),
    )


def _inverse(covariance: FloatArray) -> tuple[FloatArray, float]:
    """Return the inverse of a covariance and the log of its determinant."""
    root = np.linalg.cholesky(covariance)
    lower, _ = linalg.lapack.dpotri(root, lower=1)
    whole = lower + lower.T
    whole[np.diag_indices_from(whole)] /= 2
    return whole, 2 * float(np.log(np.diag(root)).sum())
