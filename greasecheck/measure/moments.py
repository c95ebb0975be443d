"""Several photos of one moment are one reading: their values joined, a spoilt one left out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.robust import robust_scale
from greasecheck.model import Verdict

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import datetime
    from typing import TypeVar

    from greasecheck.model import FloatArray, Reading

    Taken = TypeVar("Taken")

# From its first photo on. Bubbles rise and foam settles meanwhile, grease does not leach. Doubled,
# photos of the jar filled anew could be taken for a burst.
MOMENT = timedelta(minutes=2)
# A photo off by more than so many scales of the others is spoilt; the scale is at least a share of
# the stated error, most of which frames of one burst have in common.
SPOILT_SCALES, LEAST_SCALE_SHARE = 4.0, 0.5
FEWEST_TO_JUDGE = 3  # of two that differ either may be spoilt


@dataclass(frozen=True, slots=True, kw_only=True)
class Joined:
    """One value of several photos.

    Attributes
    ----------
    value, std : float
        Mean of the sound ones and its standard error: the stated one, which photos of one moment
        share, and the scatter between them.
    sound : tuple of bool
        Which of the values were used.
    """

    value: float
    std: float
    sound: tuple[bool, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """The joint reading of several photos of one tub within two minutes; None where not measured.

    `photos` are the names of all of them, `left_out` of those that are spoilt.
    """

    tub: int | None
    taken_at: datetime
    photos: tuple[str, ...]
    left_out: tuple[str, ...]
    attenuation: Joined | None
    yellowness: Joined | None


def group_moments(
    taken: Sequence[Taken], time_of: Callable[[Taken], datetime]
) -> tuple[tuple[Taken, ...], ...]:
    """Part what was taken, in any order, into moments, oldest first.

    Examples
    --------
    >>> from datetime import datetime
    >>> times = [datetime(2026, 1, 2, 3, minute) for minute in (0, 1, 2, 3)]
    >>> [len(moment) for moment in group_moments(times, lambda time: time)]
    [3, 1]
    """
    moments: list[list[Taken]] = []
    for one in sorted(taken, key=time_of):
        if moments and time_of(one) - time_of(moments[-1][0]) <= MOMENT:
            moments[-1].append(one)
        else:
            moments.append([one])
    return tuple(map(tuple, moments))


def join(values: Sequence[float], stds: Sequence[float]) -> Joined:
    """Join values of one moment with their stated standard errors.

    Examples
    --------
    >>> joined = join([10.0, 10.2, 9.8, 31.0], [0.5, 0.5, 0.5, 0.5])
    >>> round(joined.value, 2), round(joined.std, 2), joined.sound
    (10.0, 0.51, (True, True, True, False))
    """
    found, usual = np.asarray(values, dtype=np.float64), float(np.median(stds))
    sound = _sound(found, usual)
    kept = found[sound]
    scatter = float(np.std(kept, ddof=1) / np.sqrt(len(kept))) if len(kept) > 1 else 0.0
    return Joined(
        value=float(kept.mean()), std=float(np.hypot(usual, scatter)), sound=tuple(sound.tolist())
    )


def moments_of(readings: Sequence[Reading]) -> tuple[Moment, ...]:
    """Return the moments of which several photos were read, of each tub and view.

    A refused photo is logged nowhere and is part of none.
    """
    views: dict[tuple[object, ...], list[Reading]] = {}
    for reading in readings:
        seen = reading.verdict is not Verdict.REFUSED and (reading.water or reading.bone)
        if reading.taken_at is not None and seen:
            views.setdefault((reading.tub, reading.kind, reading.part), []).append(reading)
    return tuple(
        _moment(several)
        for view in views.values()
        for several in group_moments(view, _time_of)
        if len(several) > 1
    )


def _time_of(reading: Reading) -> datetime:
    assert reading.taken_at is not None
    return reading.taken_at


def _moment(readings: Sequence[Reading]) -> Moment:
    hazes = {r.photo_path: (r.water.main_per_m, r.water.std_per_m) for r in readings
             if r.water and r.water.bound is None}  # fmt: skip
    bones = {r.photo_path: (r.bone.yi_e313, r.bone.yi_std) for r in readings if r.bone}
    joined = [join(*zip(*seen.values(), strict=True)) if seen else None for seen in (hazes, bones)]
    spoilt = {
        photo
        for seen, one in zip((hazes, bones), joined, strict=True)
        for photo, sound in zip(seen, one.sound if one else (), strict=True)
        if not sound
    }
    return Moment(
        tub=readings[0].tub,
        taken_at=_time_of(readings[0]),
        photos=tuple(reading.photo_path for reading in readings),
        left_out=tuple(r.photo_path for r in readings if r.photo_path in spoilt),
        attenuation=joined[0],
        yellowness=joined[1],
    )


def _sound(values: FloatArray, usual_std: float) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    if len(values) < FEWEST_TO_JUDGE:
        return np.ones(len(values), dtype=bool)
    off = values - np.median(values)
    scale = robust_scale(off, max(LEAST_SCALE_SHARE * usual_std, 1e-12))
    return np.asarray(np.abs(off) <= SPOILT_SCALES * scale)
