"""Finds water changes that the readings show but nobody logged."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from greasecheck.model import Verdict
from greasecheck.model.falls import POSSIBLE, Haze, unexplained_falls
from greasecheck.predict.fit.likelihood import expected_of, log_beyond
from greasecheck.predict.fit.noise import TAIL_FREEDOM, apart_std, usual_noise
from greasecheck.predict.fit.posterior import Peak, first_peak
from greasecheck.predict.forecast_records import UnloggedChange
from greasecheck.predict.model.history import build_timeline
from greasecheck.predict.records import WaterChange

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.model import FloatArray, Recipe
    from greasecheck.predict.fit.done_prior import DoneTime
    from greasecheck.predict.fit.noise import Expected
    from greasecheck.predict.model.draws import Draws
    from greasecheck.predict.model.timeline import Observations, Timeline
    from greasecheck.predict.records import HazeReading, TubHistory

A_MOMENT = timedelta(seconds=1)  # times that became days are not the same to the last digit
# Without a source; the comment beside each value states what it does.
LOW_STD = 2.0  # standard errors that a reading lies below what is expected of a tub unchanged
MOST_CANDIDATES = 12  # of each kind that are tried: the largest falls, the first too low readings
FEWEST_READINGS = 4  # of a tub in which changes are looked for
# Log odds; at 3 one in twenty of the changes found now would be missed, and 2 tubs in 180 fewer
# have a false claim.
NEEDED_GAIN = 2.0
NEEDED_WITHOUT_FALL = 3.0
PEAK_LOG_DENSITY = float(  # of a standard Student t
    special.gammaln((TAIL_FREEDOM + 1) / 2)
    - special.gammaln(TAIL_FREEDOM / 2)
    - np.log(TAIL_FREEDOM * np.pi) / 2
)


def find_unlogged(history: TubHistory, now: datetime, first: Peak) -> tuple[UnloggedChange, ...]:
    """Return changes that explain falls of the haze much better than scatter does.

    There are two kinds of candidates:

    - A fall within one bath. It is taken when the readings from it until the next filling are more
      probable by `NEEDED_GAIN` in log odds with a change there than without. Later baths do not
      count: the parameters were fitted to them without the change.
    - A reading far lower than expected though the haze did not fall. All readings count, and must
      be more probable by `NEEDED_WITHOUT_FALL`: a bath may rise less than expected for lack of
      grease.

    Either must hold in two more ways: without the readings that come later than this bath would
    usually have been changed again, since each of them says the same; and without anything that
    grows in old water, which is a guess in a bath that was left longer than those before.

    Parameters
    ----------
    history : TubHistory
        The tub.
    now : datetime.datetime
        Zone-aware; later entries are not looked at.
    first : Peak
        From `fit_before_falls`: says what is expected.
    """
    if len(history.readings) < FEWEST_READINGS:
        return ()
    falls, timeline = candidates(history, now), build_timeline(history, now)
    usual = timedelta(days=timeline.calendar.usual_interval_days())
    times = np.array([timeline.calendar.at(day) for day in timeline.observations.moments.days])
    before = _log_densities(timeline, first.draws)
    taken: list[UnloggedChange] = []
    for fall in (*falls, *_too_low(history, timeline, first.draws, falls)):
        changed = build_timeline(with_changes(history, [*taken, fall]), now)
        tried = _log_densities(changed, first.draws)
        begin, end = _span(history, now, fall)
        in_its_bath = (begin < times) & (times <= end)
        fell = fall in falls
        counted = in_its_bath if fell else np.ones_like(in_its_bath)
        soon = counted & ~(in_its_bath & (times > begin + usual))
        gains = (tried - before) @ np.stack([counted, soon], axis=1)
        if gains.min() > (NEEDED_GAIN if fell else NEEDED_WITHOUT_FALL):
            taken.append(fall)
            before = tried
    return tuple(sorted(taken, key=lambda change: change.after))


def fit_before_falls(history: TubHistory, now: datetime, done_times: tuple[DoneTime, ...]) -> Peak:
    """Fit two pools without what was read in a bath after a fall, until the next filling."""
    known = _before_falls(history, candidates(history, now))
    return first_peak(build_timeline(known, now), done_times)


def _before_falls(history: TubHistory, falls: Sequence[UnloggedChange]) -> TubHistory:
    fills = [change.at for change in history.changes]
    spans = [
        (fall.before, min((at for at in fills if at >= fall.before), default=None))
        for fall in falls
    ]
    return replace(
        history,
        readings=tuple(
            reading
            for reading in history.readings
            if not any(
                begin <= reading.at and (end is None or reading.at <= end) for begin, end in spans
            )
        ),
    )


def _standardised(seen: Observations, expected: Expected) -> tuple[FloatArray, FloatArray]:
    """Return how far readings lie from what is expected, and the scale of that [1/m]."""
    std = apart_std(seen, expected, usual_noise())
    return (seen.haze_per_m - expected.haze) / std, std


def _log_densities(timeline: Timeline, draws: Draws) -> FloatArray:
    """Return the readings' log densities by one draw, and with no bloom, shape (2, readings)."""
    seen, expected = timeline.observations, expected_of(timeline, draws)
    without_bloom = replace(expected, bloom=np.zeros_like(expected.bloom))
    found = []
    for story in (expected, without_bloom):
        z, std = _standardised(seen, story)
        beyond = log_beyond(z[:, None], seen.above)[:, 0]
        plain = PEAK_LOG_DENSITY - (TAIL_FREEDOM + 1) / 2 * np.log1p(z**2 / TAIL_FREEDOM)
        found.append(np.where(seen.above | seen.below, beyond, plain - np.log(std)))
    return np.stack(found)


def _span(history: TubHistory, now: datetime, fall: UnloggedChange) -> tuple[datetime, datetime]:
    """Return from when until when a bath's readings come after a fall."""
    coming = [change.at for change in history.changes if change.at >= fall.before]
    return fall.before - A_MOMENT, min(coming, default=now)


def _too_low(
    history: TubHistory, timeline: Timeline, draws: Draws, falls: Sequence[UnloggedChange]
) -> tuple[UnloggedChange, ...]:
    """Return neighbouring readings of a bath of which the second is far lower than expected."""
    seen = timeline.observations
    z, _ = _standardised(seen, expected_of(timeline, draws))
    bath, calendar = seen.moments.bath, timeline.calendar
    found = [
        UnloggedChange(
            after=calendar.at(float(seen.moments.days[n])),
            before=calendar.at(float(seen.moments.days[n + 1])),
            before_per_m=float(seen.haze_per_m[n]),
            fall_per_m=float(seen.haze_per_m[n] - seen.haze_per_m[n + 1]),
            fall_share=float(1 - seen.haze_per_m[n + 1] / seen.haze_per_m[n]),
        )
        for n in np.flatnonzero((z[1:] < -LOW_STD) & (z[1:] < z[:-1] - LOW_STD))
        if bath[n] == bath[n + 1] and not seen.above[n + 1] and not seen.below[n]
        if seen.haze_per_m[n] > 0  # clear water cannot fall
    ]
    known = {(fall.after, fall.before) for fall in falls}
    denied = history.same_water
    fresh = [
        one
        for one in found
        if (one.after, one.before) not in known
        and not any(span.after < one.before and one.after < span.before for span in denied)
    ]
    return tuple(fresh[:MOST_CANDIDATES])


def with_changes(history: TubHistory, found: Sequence[UnloggedChange]) -> TubHistory:
    """Return the history with the found changes put in, halfway between their readings."""
    extra = tuple(
        WaterChange(at=middle, recipe=_recipe_at(history, middle))
        for middle in (fall.after + (fall.before - fall.after) / 2 for fall in found)
    )
    return replace(history, changes=history.changes + extra)


def _recipe_at(history: TubHistory, when: datetime) -> Recipe:
    before = [change for change in history.changes if change.at <= when]
    return sorted(before, key=lambda change: change.at)[-1].recipe


def candidates(history: TubHistory, now: datetime) -> tuple[UnloggedChange, ...]:
    """Return falls between neighbouring readings of one bath, largest share first.

    Falls in a span in which, as a person confirmed, the water stayed are left out.
    """
    fills = sorted(change.at for change in history.changes)
    seen = sorted(
        (
            one
            for one in history.readings
            if fills[0] < one.at <= now and one.verdict is not Verdict.REFUSED
        ),
        key=lambda reading: reading.at,
    )
    denied = [(span.after, span.before) for span in history.same_water]
    falls = unexplained_falls([_haze(one) for one in seen], fills, denied, POSSIBLE)
    found = [
        UnloggedChange(
            after=fall.before.at,
            before=fall.after.at,
            before_per_m=fall.before.per_m,
            fall_per_m=fall.per_m,
            fall_share=fall.share,
        )
        for fall in falls
    ]
    return tuple(sorted(found, key=lambda fall: -fall.fall_share)[:MOST_CANDIDATES])


def _haze(reading: HazeReading) -> Haze:
    return Haze(
        at=reading.at,
        per_m=reading.attenuation_per_m,
        std_per_m=reading.std_per_m,
        bound=reading.bound,
        is_doubtful=reading.verdict is Verdict.DOUBTFUL,
    )
