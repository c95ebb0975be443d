"""Finds the gain of a tub's ladder: haze over decay, along the hazes of one kind of water.

A ladder alone gives the haze of murky water; of clear water it gives a decay that the haze follows.
What is known of how it follows, from the tub's murky readings, from jars dipped at the same time
and from all waters, is put together. What remains unknown all its readings share.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model import Bound, ReadingKind, Verdict
from greasecheck.reference.ladder.slopes import CLEAR_DECAYS_PER_M, log_decay_of, slope_law

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.logbook.records import LoggedReading
    from greasecheck.model import FloatArray
    from greasecheck.reference.ladder.slopes import GainLaw

# A bath gains about a tenth in so long, at most, and in proportion in less.
PAIR_SPAN, PAIR_LOG_STD = timedelta(hours=6), 0.1
MURKY_PER_M = 10.0
JAR_SHARED_LOG_STD = 0.05  # errors that all jars of a tub share
LEAST_VARIANCE = 1e-6  # keeps ratios of errors finite
SURE = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderGain:
    """The gain of a tub's ladder: a line in the logarithm of its decay, `log_decay_of`.

    Attributes
    ----------
    mean : ndarray, shape (2,)
        Natural logarithm of haze over decay at 10 per m, and its slope.
    covariance : ndarray, shape (2, 2)
        Of the two.
    photo_log_std : float
        What a photo strays from that line, by the place it is taken from.
    jars, murky : int
        How many pairs with a jar and how many murky readings it rests on.
    """

    mean: FloatArray
    covariance: FloatArray
    photo_log_std: float
    jars: int
    murky: int

    def at(self, decay_per_m: float) -> tuple[float, float]:
        """Return the logarithm of haze over a decay, and its standard error."""
        line = _line(decay_per_m)
        return float(line @ self.mean), float(np.sqrt(line @ self.covariance @ line))


@dataclass(frozen=True, slots=True, kw_only=True)
class GainSeen:
    """The logarithm of haze over decay as a reading or pair shows it, its own and shared error."""

    decay_per_m: float
    log_gain: float
    log_std: float
    shared_log_std: float


def ladder_gain(readings: Sequence[LoggedReading]) -> LadderGain:
    """Return the gain of a tub's ladder by its readings of one kind of water.

    Parameters
    ----------
    readings : sequence of LoggedReading
        Those of the tub, of any kind.

    Notes
    -----
    The normal laws of several kinds of water (Rao 1973, Linear Statistical Inference, 8a.2) given
    what is seen, each as likely as that makes it; readings of one sort share an error beside their
    own.
    """
    ladders = [one for one in readings if _has_decay(one)]
    jars = [one for one in readings if is_sure_jar(one)]
    pairs = [_by_jar(jar, near) for jar in jars for near in nearest(jar, ladders)]
    own = [_by_itself(one) for one in ladders if is_murky(one) and _in_law(one)]
    signs = _by_signs([one for one in ladders if not is_murky(one)])
    sorts = [sort for sort in (pairs, own, signs) if sort]
    laws = slope_law().gains
    if sorts:
        laws = tuple(_given(law, sorts) for law in laws)
    return _mixed(laws, jars=len(pairs), murky=len(own))


def _given(law: GainLaw, sorts: Sequence[Sequence[GainSeen]]) -> GainLaw:
    """Return the law of one kind of water once gains are seen in several ways."""
    seen = [one for sort in sorts for one in sort]
    lines = np.stack([_line(one.decay_per_m) for one in seen])
    spread = lines @ law.covariance @ lines.T + _noise(sorts)
    spread += law.photo_log_std**2 * np.eye(len(seen))
    weights = np.linalg.solve(spread, lines @ law.covariance).T
    missed = np.array([one.log_gain for one in seen]) - lines @ law.mean
    unlikely = missed @ np.linalg.solve(spread, missed) + np.linalg.slogdet(spread)[1]
    return replace(
        law,
        log_share=float(law.log_share - unlikely / 2),
        mean=law.mean + weights @ missed,
        covariance=law.covariance - weights @ lines @ law.covariance,
    )


def _mixed(laws: Sequence[GainLaw], *, jars: int, murky: int) -> LadderGain:
    """Return the gain with the mean and covariance of several laws, each as likely as it is."""
    logs = np.array([law.log_share for law in laws])
    shares = np.exp(logs - logs.max())
    shares /= shares.sum()
    means = np.array([law.mean for law in laws])
    mean = shares @ means
    within = np.tensordot(shares, [law.covariance for law in laws], axes=1)
    return LadderGain(
        mean=mean,
        covariance=within + (means - mean).T * shares @ (means - mean),
        photo_log_std=float(np.sqrt(shares @ np.square([law.photo_log_std for law in laws]))),
        jars=jars,
        murky=murky,
    )


def _noise(sorts: Sequence[Sequence[GainSeen]]) -> FloatArray:
    """Return the covariance of what is seen in several ways, each with an error of its own."""
    own = np.diag([one.log_std**2 for sort in sorts for one in sort])
    which = np.repeat(np.arange(len(sorts)), [len(sort) for sort in sorts])
    shared = np.array([min(one.shared_log_std for one in sort) for sort in sorts])
    return own + np.where(which[:, None] == which, shared[which] ** 2, 0.0)


def _by_jar(jar: LoggedReading, ladder: LoggedReading) -> GainSeen:
    value, std = jar.attenuation_per_m or 0.0, jar.attenuation_std_per_m or 0.0
    apart = PAIR_LOG_STD * (abs(ladder.taken_at - jar.taken_at) / PAIR_SPAN)
    return _seen(ladder, value, float(np.hypot(std / value, apart)), JAR_SHARED_LOG_STD)


def _by_itself(murky: LoggedReading) -> GainSeen:
    value, std = murky.attenuation_per_m or 0.0, murky.attenuation_std_per_m or 0.0
    shared = slope_law().murky_log_std
    own = np.sqrt(max((std / value) ** 2 - shared**2, 0.0))
    return _seen(murky, value, own, shared)


def _by_signs(clear: Sequence[LoggedReading]) -> list[GainSeen]:
    """Return what the signs of the kind of water say of the gain of several readings, as one.

    A logged haze is the mean of all waters' law given the signs; the signs alone are the ratio of
    that normal law to the one without them. Those of one water differ little in their errors, so
    that the surest counts for all; signs that add nothing to the law say nothing.
    """
    if not clear:
        return []
    seen = [_seen(one, one.attenuation_per_m or 0.0, 0.0, 0.0) for one in clear]
    variances = np.array([_gain_variance(one) for one in clear])
    surest = float(variances.min())
    law = slope_law()
    usual = law.clear_log_std**-2
    added = 1 / surest - usual
    if added <= 0:
        return []
    log_gain = float(np.average([one.log_gain for one in seen], weights=1 / variances))
    return [
        GainSeen(
            decay_per_m=float(np.exp(np.mean([np.log(one.decay_per_m) for one in seen]))),
            log_gain=(log_gain / surest - law.clear_log_mean * usual) / added,
            log_std=min(one.log_std for one in seen),
            shared_log_std=float(added**-0.5),
        )
    ]


def _gain_variance(clear: LoggedReading) -> float:
    """Return what a reading's gain is unsure by, as a relative variance: as much as its haze.

    A decay that is too fast makes its signs tell too low a gain: in the haze the error of the decay
    nearly cancels.
    """
    value, std = clear.attenuation_per_m or 0.0, clear.attenuation_std_per_m or 0.0
    return max((std / value) ** 2, LEAST_VARIANCE)


def _seen(
    ladder: LoggedReading, haze_per_m: float, haze_log_std: float, shared_log_std: float
) -> GainSeen:
    decay, decay_std = ladder.decay_per_m or 0.0, ladder.decay_std_per_m or 0.0
    return GainSeen(
        decay_per_m=decay,
        log_gain=float(np.log(haze_per_m / decay)),
        log_std=float(np.hypot(haze_log_std, decay_std / decay)),
        shared_log_std=shared_log_std,
    )


def _line(decay_per_m: float) -> FloatArray:
    return np.array([1.0, float(log_decay_of(decay_per_m))])


def with_gain(reading: LoggedReading, gain: LadderGain) -> LoggedReading:
    """Return a ladder's reading of clear water by its tub's gain; others as they are.

    The standard error is then the reading's own: that of the gain is shared and not in it.
    """
    decay, decay_std = reading.decay_per_m, reading.decay_std_per_m
    if reading.kind is not ReadingKind.LADDER or decay is None or decay_std is None:
        return reading
    if is_murky(reading) or reading.bound is Bound.ABOVE:
        return reading
    if decay < SURE * decay_std:
        most = max(decay, 0.0) + SURE * decay_std
        log_gain, log_std = gain.at(most)
        most *= float(np.exp(log_gain + SURE * log_std))
        return replace(
            reading,
            attenuation_per_m=most,
            attenuation_std_per_m=most / SURE,
            bound=Bound.BELOW,
        )
    haze = decay * float(np.exp(gain.at(decay)[0]))
    std = haze * float(np.hypot(decay_std / decay, gain.photo_log_std))
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
    is_value = reading.bound is None and (reading.attenuation_per_m or 0.0) > 0
    good = reading.verdict is Verdict.GOOD and is_value
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
