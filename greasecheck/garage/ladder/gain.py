"""Finds the gain of a tub's ladder: haze over decay, which one kind of water keeps.

A ladder alone gives the haze of murky water; of clear water it gives a decay proportional to it.
What is known of the proportion from the tub's murky readings, from jars dipped at the same time
and from all waters is put together. What remains unknown is one factor for all its readings.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model import Bound, ReadingKind, Verdict
from greasecheck.reference.ladder.slopes import CLEAR_DECAYS_PER_M, slope_law

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.logbook.records import LoggedReading

PAIR_SPAN = timedelta(hours=6)  # a bath gains about a tenth in so long, at most
PAIR_LOG_STD = 0.1
# What one photo's proportion strays from its tub's, by the view and the law's curve: 0.06 to 0.08
# in the path-traced series of tests/benchmarks/ladder_accuracy.py.
PHOTO_LOG_STD = 0.07
MURKY_PER_M = 10.0
# Errors that the murky readings of a tub share (murky_log_std of the law), and all its jars.
MURKY_SHARED_LOG_STD, JAR_SHARED_LOG_STD = 0.065, 0.05
SURE = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderGain:
    """The gain of a tub's ladder.

    Attributes
    ----------
    log_gain, log_std : float
        Natural logarithm of haze over decay, and its standard error.
    jars, murky : int
        How many pairs with a jar and how many murky readings it rests on.
    """

    log_gain: float
    log_std: float
    jars: int
    murky: int


def ladder_gain(readings: Sequence[LoggedReading]) -> LadderGain:
    """Return the gain of a tub's ladder by its readings of one kind of water.

    Parameters
    ----------
    readings : sequence of LoggedReading
        Those of the tub, of any kind.
    """
    ladders = [one for one in readings if _has_decay(one)]
    jars = [one for one in readings if is_sure_jar(one)]
    pairs = [_estimate(jar, near, PAIR_LOG_STD) for jar in jars for near in nearest(jar, ladders)]
    own = [_estimate(one, one, 0.0) for one in ladders if is_murky(one) and _in_law(one)]
    clear = [_estimate(one, one, 0.0) for one in ladders if not is_murky(one)]
    known = [
        *joined(pairs, JAR_SHARED_LOG_STD),
        *joined(own, MURKY_SHARED_LOG_STD),
        *joined(clear, min((std for _, std in clear), default=0.0)),
        (0.0, float(np.sqrt(slope_law().covariance[0, 0]))),
    ]
    weights = np.array([1 / std**2 for _, std in known])
    mean = float(weights @ np.array([value for value, _ in known]) / weights.sum())
    return LadderGain(
        log_gain=mean,
        log_std=float(1 / np.sqrt(weights.sum())),
        jars=len(pairs),
        murky=len(own),
    )


def with_gain(reading: LoggedReading, gain: LadderGain) -> LoggedReading:
    """Return a ladder's reading of clear water by its tub's gain; others as they are.

    The standard error is then the reading's own: that of the gain is shared and not in it.
    """
    decay, decay_std = reading.decay_per_m, reading.decay_std_per_m
    if reading.kind is not ReadingKind.LADDER or decay is None or decay_std is None:
        return reading
    if is_murky(reading) or reading.bound is Bound.ABOVE:
        return reading
    factor = float(np.exp(gain.log_gain))
    if decay < SURE * decay_std:
        most = (max(decay, 0.0) + SURE * decay_std) * factor * np.exp(SURE * gain.log_std)
        std = float(most) / SURE
        return replace(
            reading,
            attenuation_per_m=float(most),
            attenuation_std_per_m=std,
            bound=Bound.BELOW,
        )
    haze = decay * factor
    std = float(np.hypot(decay_std * factor, PHOTO_LOG_STD * haze))
    return replace(reading, attenuation_per_m=haze, attenuation_std_per_m=std, bound=None)


def is_murky(reading: LoggedReading) -> bool:
    """Whether a ladder's own reading needs no gain: of 10 per metre and more."""
    return (
        reading.kind is ReadingKind.LADDER
        and reading.bound is None
        and (reading.attenuation_per_m or 0.0) >= MURKY_PER_M
    )


def shares_gain(reading: LoggedReading) -> bool:
    """Whether the error of its tub's gain is in a reading."""
    ladder = reading.kind is ReadingKind.LADDER and reading.decay_per_m is not None
    return ladder and not is_murky(reading) and reading.bound is not Bound.ABOVE


def _has_decay(reading: LoggedReading) -> bool:
    decay, std = reading.decay_per_m, reading.decay_std_per_m
    known = decay is not None and std is not None and decay > SURE * std
    good = reading.verdict is Verdict.GOOD and reading.bound is None
    return reading.kind is ReadingKind.LADDER and known and good


def _in_law(reading: LoggedReading) -> bool:
    low, high = CLEAR_DECAYS_PER_M
    return low <= (reading.decay_per_m or 0.0) <= 2 * high


def is_sure_jar(reading: LoggedReading) -> bool:
    """Whether a reading is that of a jar, good, and a value well above nothing."""
    haze, std = reading.attenuation_per_m, reading.attenuation_std_per_m
    known = haze is not None and std is not None and haze > SURE * std
    good = reading.verdict is Verdict.GOOD and reading.bound is None
    return reading.kind is ReadingKind.JAR and known and good


def nearest(to: LoggedReading, readings: Sequence[LoggedReading]) -> list[LoggedReading]:
    """Return the reading that is nearest in time to another, if it is near enough."""
    near = [one for one in readings if abs(one.taken_at - to.taken_at) <= PAIR_SPAN]
    return sorted(near, key=lambda one: abs(one.taken_at - to.taken_at))[:1]


def _estimate(
    haze: LoggedReading, ladder: LoggedReading, more_log_std: float
) -> tuple[float, float]:
    """Return the logarithm of a haze over a decay, and its standard error."""
    value, decay = haze.attenuation_per_m or 0.0, ladder.decay_per_m or 0.0
    errors = (
        (haze.attenuation_std_per_m or 0.0) / value,
        (ladder.decay_std_per_m or 0.0) / decay,
        PHOTO_LOG_STD,
        more_log_std,
    )
    return float(np.log(value / decay)), float(np.linalg.norm(errors))


def joined(
    estimates: Sequence[tuple[float, float]], shared_log_std: float
) -> list[tuple[float, float]]:
    """Join estimates that share an error beside their own; nothing of none."""
    if not estimates:
        return []
    values, stds = np.array(estimates).T
    weights = 1 / stds**2
    mean = float(weights @ values / weights.sum())
    return [(mean, float(np.hypot(1 / np.sqrt(weights.sum()), shared_log_std)))]
