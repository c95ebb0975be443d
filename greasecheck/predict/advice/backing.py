"""What backs quiet water: that the tub was warm, two weeks' proof, and the species' usual time."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from greasecheck.model import Recipe
from greasecheck.predict.fit.dates import (
    LEAST_SOAKED_DAYS,
    clear_gain_row,
    skull_rows,
    soaked_days,
    usual_log_days,
    volume_share,
)
from greasecheck.predict.fit.likelihood import expected_of
from greasecheck.predict.fit.tub_fit import thinned_branches
from greasecheck.predict.model.projection import value_of
from greasecheck.reference.advice import advice_value

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from numpy.typing import NDArray

    from greasecheck.model import FloatArray
    from greasecheck.predict.fit.tub_fit import TubFit
    from greasecheck.predict.records import ClearRule, TubHistory

DRAWS = 200  # their median is off by 3.5 in 100 of them (binomial), of half as many by 5
LEAST_LEFT_SHARE = 1e-6  # keeps a ratio finite, far below any rule: twice as much changes nothing
WARM_AGAIN = timedelta(days=1)  # of water seen warm, until a photo shows whether it is quiet
# Quiet water multiplies the odds of the species' usual time by no more than this, and as much
# again where two weeks' proof holds: the bounds of 'substantial' and of 'very strong' evidence,
# 10^0.5 and 10^1.5 (Jeffreys, Theory of Probability, 3rd ed. 1961, app. B; from memory). With it
# a tenth of the skulls of a species may be quiet and full; at 10 a fourth fewer days would do.
QUIET_ODDS, PROVED_ODDS = 10**0.5, 10**1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Backing:
    """What backs quiet water.

    Attributes
    ----------
    warm : bool
        Whether the tub was seen warm, with a photo of its water after that, or needs no heater;
        never of acetone, in which grease makes no haze.
    was_warm : bool
        Whether it was so at any time since the present water went in.
    proved : bool
        Whether its water was left warm and unchanged as long as the rule says, and gained no more
        than clear water may, or than a skull gives off that is just degreased.
    refuted : bool
        Whether the present water was left so, and gained more.
    asks_proof : bool
        Whether its pace once broke, so that the water convinces nobody without the proof.
    usual_share : mapping of str to float
        By each skull's name, the share of skulls of its kind that are done by now, 0 to 1.
    most_sure : mapping of str to float
        By each skull's name, how sure quiet water can make of it at most, 0 to 1.
    soaked_days : mapping of str to float
        By each skull's name, how long it soaked, as if always in a soap bath at 40 degrees C.
    """

    warm: bool
    was_warm: bool
    proved: bool
    refuted: bool
    asks_proof: bool
    usual_share: Mapping[str, float]
    most_sure: Mapping[str, float]
    soaked_days: Mapping[str, float]


def backing_of(
    fit: TubFit,
    history: TubHistory,
    rule: ClearRule,
    *,
    checked_at: datetime | None = None,
    asks_proof: bool = False,
) -> Backing:
    """Return what backs quiet water of a tub.

    Parameters
    ----------
    fit : TubFit
        The tub.
    history : TubHistory
        Its log.
    rule : ClearRule
        How long a proof lasts, and what counts as clear.
    checked_at : datetime.datetime, optional
        When somebody last found heater, soap and bone all well.
    asks_proof : bool
        Whether its pace once broke.
    """
    warm = _seen_warm(fit, history, checked_at)
    soaked = soaked_days(fit)
    shows_haze = fit.timeline.usual_condition.recipe is not Recipe.ACETONE
    is_cold = fit.timeline.calendar.steps.cold is not None
    unheated = _filled_c(fit, history) <= advice_value("room_c")
    ends = [_ends_of_proof(fit, bath, warm, rule) for bath in _baths(fit)] if shows_haze else []
    quiet = [_is_quiet(fit, end, rule) for end in ends]
    proved = any(quiet)
    shares = {
        skull.name: _usual_share(fit, n, soaked[n], rule) for n, skull in enumerate(fit.skulls)
    }
    trusted = shows_haze and not is_cold
    return Backing(
        warm=trusted and (unheated or _seen_after(fit, warm, fit.now, rule)),
        was_warm=trusted and (unheated or _seen_after(fit, warm, filled_at(fit), rule)),
        proved=proved,
        refuted=bool(ends) and ends[-1].size > 0 and not quiet[-1],
        asks_proof=asks_proof,
        usual_share=shares,
        most_sure={name: _most_sure(share, proved=proved) for name, share in shares.items()},
        soaked_days={skull.name: soaked[n] for n, skull in enumerate(fit.skulls)},
    )


def _most_sure(usual_share: float, *, proved: bool) -> float:
    """Return how sure quiet water can make, where so many skulls are usually done by now.

    Examples
    --------
    >>> [round(_most_sure(share, proved=False), 2) for share in (0.25, 0.5, 0.75)]
    [0.51, 0.76, 0.9]
    >>> [round(_most_sure(share, proved=True), 2) for share in (0.05, 0.25, 0.5)]
    [0.62, 0.91, 0.97]
    """
    odds = usual_share / max(1 - usual_share, 1e-9) * (PROVED_ODDS if proved else QUIET_ODDS)
    return odds / (1 + odds)


def _usual_share(fit: TubFit, skull: int, soaked: float, rule: ClearRule) -> float:
    """Return the share of skulls of its kind that are done by the rule after so long."""
    log_mean, log_std = usual_log_days(fit, skull, rule)
    away = (np.log(max(soaked, LEAST_SOAKED_DAYS)) - log_mean) / log_std
    return float(special.ndtr(away))


def _seen_warm(
    fit: TubFit, history: TubHistory, checked_at: datetime | None
) -> tuple[datetime, ...]:
    """Return when somebody found the water warm: by a thermometer, or all well.

    What is entered with a water change is what went in; the water may have cooled since.
    """
    least_c = _filled_c(fit, history) - advice_value("stall_small_drop_c")
    felt = [one.at for one in history.temperatures if one.temperature_c > least_c]
    return tuple(at for at in (*felt, *((checked_at,) if checked_at else ())) if at <= fit.now)


def _filled_c(fit: TubFit, history: TubHistory) -> float:
    """Return how warm baths usually go in [degrees C]; the usual where none was entered."""
    filled = [
        change.temperature_c
        for change in history.changes
        if change.temperature_c is not None and change.at <= fit.now
    ]
    return float(np.median(filled)) if filled else fit.timeline.usual_condition.temperature_c


def filled_at(fit: TubFit) -> datetime:
    """Return when the present water went in."""
    return fit.timeline.calendar.at(fit.timeline.calendar.last_change_days)


def _seen_after(fit: TubFit, warm: tuple[datetime, ...], then: datetime, rule: ClearRule) -> bool:
    """Return whether the water was seen warm in the time before `then` or later.

    That is, not longer before than a proof lasts, and read at least a day after it was seen.
    """
    calendar, days = fit.timeline.calendar, fit.timeline.observations.moments.days
    if not warm or not len(days):
        return False
    newest = calendar.at(float(days.max()))
    lately = then - timedelta(days=rule.soak_days)
    return any(at >= lately and newest - at >= WARM_AGAIN for at in warm)


def _baths(fit: TubFit) -> range:
    return range(int(fit.timeline.calendar.changed.sum()))


def _ends_of_proof(
    fit: TubFit, bath: int, warm: tuple[datetime, ...], rule: ClearRule
) -> NDArray[np.intp]:
    """Return the readings that end a proof: of a bath left long enough, warm in its second half."""
    moments, calendar = fit.timeline.observations.moments, fit.timeline.calendar
    rows = np.flatnonzero((moments.bath == bath) & (moments.bath_age_days >= rule.soak_days))
    if not rows.size:
        return rows
    filled = calendar.at(float(calendar.event_days[calendar.changed][bath]))
    last = calendar.at(float(moments.days[rows].max()))
    half = filled + timedelta(days=rule.soak_days / 2)
    return rows if any(half <= at <= last + WARM_AGAIN for at in warm) else rows[:0]


def _is_quiet(fit: TubFit, ends: NDArray[np.intp], rule: ClearRule) -> bool:
    """Return whether the readings that end a proof show that it holds."""
    seen = fit.timeline.observations
    if not ends.size or seen.above[ends].any():
        return False
    degreased = _gains_of_degreased(fit, seen.moments.bath_age_days[ends], rule)
    return bool((_gains(fit)[ends] < np.maximum(degreased, rule.gain_per_m)).all())


def _gains_of_degreased(fit: TubFit, ages_days: FloatArray, rule: ClearRule) -> FloatArray:
    """Return what fresh baths left alone gain by some ages when all is just degreased [1/m].

    In the standard volume: what they would gain now, by as much as there is grease left.
    """
    per_share = []
    for branch in thinned_branches(fit, DRAWS):
        course = branch.course
        weights = course.weights(fit.timeline.now)[0]
        here = zip(skull_rows(course), fit.timeline.present, strict=True)
        left = np.max([value_of(row, weights) for row, is_in in here if is_in], axis=0)
        gains = [
            value_of(clear_gain_row(fit, course, replace(rule, soak_days=float(age))), weights)
            for age in ages_days
        ]
        per_share.append(np.stack(gains) / np.maximum(left, LEAST_LEFT_SHARE))
    each: FloatArray = np.median(np.hstack(per_share), axis=1)
    return rule.grease_left_share * volume_share(fit) * each


def _gains(fit: TubFit) -> FloatArray:
    """Return what each reading lies over its fresh bath, in the standard volume [1/m]."""
    seen, expected = fit.timeline.observations, expected_of(fit.timeline, fit.fits[0].peak.draws)
    return (seen.haze_per_m - expected.fresh) * volume_share(fit)
