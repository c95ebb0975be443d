"""The eye's reading: the deepest bar of a ladder that one sees, and the haze that it implies."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import LogbookError
from greasecheck.garage.ladder.gain import PAIR_LOG_STD, is_murky, is_sure_jar, nearest
from greasecheck.logbook.records import HandReading
from greasecheck.model import Bound, ReadingKind, Verdict
from greasecheck.reference.ladder.eye import eye_law
from greasecheck.reference.ladder.plate import dip_ladder

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.logbook.records import LoggedReading

# Numbers stand every 10 mm (2.9 mm of uniform scatter), and nobody measures where the water stands.
DEPTH_STD_MM = 5.8
SURE = 2.0


@dataclass(frozen=True, slots=True)
class EyeGain:
    """The logarithm of a tub's haze over what an eye reads, and its standard error."""

    log_gain: float
    log_std: float


def reading_by_eye(tub: int, at: datetime, last_bar_mm: float) -> HandReading:
    """Return the reading of somebody who saw the bars of a ladder down to a number.

    Parameters
    ----------
    tub : int
        The tub.
    at : datetime.datetime
        When.
    last_bar_mm : float
        The number at the deepest bar that was seen; 0 when none was [mm].

    Raises
    ------
    LogbookError
        When the ladder has no such bar.

    Notes
    -----
    Where no bar is seen, or the last one is, it is a bound.
    """
    plate = dip_ladder()
    deepest = plate.stripes.fine.height_mm
    if not 0 <= last_bar_mm <= deepest:
        raise LogbookError(
            f"the ladder has no bar at {last_bar_mm:g} mm",
            hint=f"give the number beside the deepest bar you see, 0 to {deepest:g}",
        )
    depth_mm = last_bar_mm + plate.stripes.fine.y_mm - plate.waterline_mm
    haze, log_std = eye_law().haze_per_m(depth_mm), _log_std(depth_mm)
    bound = None
    if last_bar_mm > deepest - plate.rungs.numbers_every_mm:
        haze, bound = haze * float(np.exp(SURE * log_std)), Bound.BELOW
    elif last_bar_mm < plate.rungs.step_mm:
        haze, bound = haze * float(np.exp(-SURE * log_std)), Bound.ABOVE
    return HandReading(
        tub=tub,
        taken_at=at,
        attenuation_per_m=haze,
        attenuation_std_per_m=haze * log_std,
        bound=bound,
        kind=ReadingKind.EYE,
        note=f"seen down to {last_bar_mm:g} mm",
    )


def bars_by_eye() -> tuple[int, ...]:
    """Return the numbers that a ladder bears beside its bars, with 0 for none of them [mm]."""
    plate = dip_ladder()
    step = round(plate.rungs.numbers_every_mm)
    return tuple(range(0, round(plate.stripes.fine.height_mm) + 1, step))


def _log_std(depth_mm: float) -> float:
    """Return the error of the logarithm of haze, by waters, eyes and the depth's own."""
    law = eye_law()
    near, far = max(depth_mm - DEPTH_STD_MM, DEPTH_STD_MM), depth_mm + DEPTH_STD_MM
    by_depth = abs(np.log(law.haze_per_m(near) / law.haze_per_m(far))) / 2
    return float(np.hypot(law.log_std, by_depth))


def eye_gain(readings: Sequence[LoggedReading]) -> EyeGain:
    """Return by how much an eye reads a tub otherwise than the law, from pairs within hours.

    Pairs are with jars and with ladders in murky water; the law itself has weight as well.
    """
    seen = [one for one in readings if _is_value(one)]
    jars = [one for one in readings if is_sure_jar(one)]
    murky = [one for one in readings if is_murky(one) and one.verdict is Verdict.GOOD]
    pairs = [_ratio(true, eye) for true in (*jars, *murky) for eye in nearest(true, seen)]
    values, stds = np.array([*pairs, (0.0, eye_law().log_std)]).T
    weights = stds**-2
    return EyeGain(float(weights @ values / weights.sum()), float(1 / np.sqrt(weights.sum())))


def with_eye_gain(readings: Sequence[LoggedReading]) -> tuple[LoggedReading, ...]:
    """Return readings with those by eye calibrated by their pairs.

    What remains unknown is one factor for all of them. Its error stands in each reading, as many
    times wider as keeps all of them together from weighing more than one.
    """
    count = sum(map(_is_value, readings))
    if not count:
        return tuple(readings)
    gain = eye_gain(readings)
    return tuple(_calibrated(one, gain, count) if _is_value(one) else one for one in readings)


def _calibrated(reading: LoggedReading, gain: EyeGain, count: int) -> LoggedReading:
    haze = reading.attenuation_per_m or 0.0
    factor = float(np.exp(gain.log_gain))
    log_std = np.hypot(_own_log_std(reading), gain.log_std * np.sqrt(count))
    return replace(
        reading,
        attenuation_per_m=haze * factor,
        attenuation_std_per_m=float(haze * factor * log_std),
    )


def _ratio(true: LoggedReading, eye: LoggedReading) -> tuple[float, float]:
    """Return the logarithm of a haze over the eye's reading, and its standard error."""
    value, std = true.attenuation_per_m or 0.0, true.attenuation_std_per_m or 0.0
    errors = (std / value, _own_log_std(eye), PAIR_LOG_STD)
    return float(np.log(value / (eye.attenuation_per_m or 0.0))), float(np.linalg.norm(errors))


def _own_log_std(eye: LoggedReading) -> float:
    """Return the error of one look, without what all looks share."""
    whole = (eye.attenuation_std_per_m or 0.0) / (eye.attenuation_per_m or 1.0)
    return float(np.sqrt(max(whole**2 - eye_law().log_std ** 2, 0.0)))


def _is_value(reading: LoggedReading) -> bool:
    value = reading.attenuation_per_m or 0.0
    return reading.kind is ReadingKind.EYE and reading.bound is None and value > 0
