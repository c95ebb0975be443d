"""Doubts of the dates and shares that the haze gives: no form may hold, an end may be a stop.

Both go by the usual time of the species, whatever the tub's readings say.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from greasecheck.predict.fit.dates import (
    routine_of,
    soaked_days,
    usual_log_days,
    usual_share,
)
from greasecheck.predict.fit.posterior import SEED
from greasecheck.predict.model.course import run_course
from greasecheck.predict.outlook.diagnostics import MOST_DRIFT_SHARE
from greasecheck.predict.tables import spread

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from greasecheck.model import FloatArray
    from greasecheck.predict.fit.dates import TubDates
    from greasecheck.predict.fit.tub_fit import TubFit
    from greasecheck.predict.records import ClearRule, FilledPlan

MOST_SHARE = 1 - 1e-9  # of skulls, whose time is finite
EVENEST = 1 / 3  # of a release, as from a solid that dissolves from its surface: see `hastened`


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualTime:
    """When a skull is degreased by its species' usual time.

    Attributes
    ----------
    log_mean, log_std : float
        Of the time until it is degreased [log of days of the reference bath].
    passed : float
        Share of skulls of its kind that are done by now, 0 to 1.
    soaked_days : float
        How long it soaked [days of the reference bath].
    """

    log_mean: float
    log_std: float
    passed: float
    soaked_days: float

    @classmethod
    def of(cls, fit: TubFit, skull: int, rule: ClearRule) -> UsualTime:
        """Return the usual time of a skull of a tub's story."""
        soaked = soaked_days(fit)[skull]
        log_mean, log_std = usual_log_days(fit, skull, rule)
        return cls(
            log_mean=log_mean,
            log_std=log_std,
            passed=usual_share(fit, skull, soaked, rule),
            soaked_days=soaked,
        )

    def soaks_days(self, share: FloatArray) -> FloatArray:
        """Return the days by which such shares of skulls are done."""
        away = special.ndtri(np.minimum(share, MOST_SHARE))
        days: FloatArray = np.exp(self.log_mean + self.log_std * away)
        return days

    def to_come_days(self, soaks_days: FloatArray) -> FloatArray:
        """Return how much of such a soak is to come [days of the reference bath]."""
        days: FloatArray = np.maximum(soaks_days - self.soaked_days, 0.0)
        return days


def with_doubt(fit: TubFit, found: TubDates, plan: FilledPlan, rule: ClearRule) -> TubDates:
    """Return the dates of degreasing with some draws that go by the species' usual time alone.

    Where no form holds for a tub, its readings show no more than that it is not done. So a share of
    the draws that are not done takes the usual time instead, given that it has not passed.
    """
    chance = np.random.default_rng(SEED)
    now_days, days = fit.timeline.calendar.now_days, found.degreased_days.copy()
    pace = _planned_pace(fit, plan)
    doubted = chance.random(days.shape[1]) < spread("doubted_share").median
    for row, skull in enumerate(_here(fit)):
        usual = UsualTime.of(fit, int(skull), rule)
        share = usual.passed + (1 - usual.passed) * chance.random(days[row].shape)
        later = now_days + usual.to_come_days(usual.soaks_days(share)) / pace
        days[row] = np.where(doubted & (days[row] > now_days), later, days[row])
    return replace(found, degreased_days=days)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stops:
    """Draws whose end is taken for a stop, of some skulls.

    Attributes
    ----------
    stopped : ndarray of bool, shape (skulls, draws)
        Which.
    left_share : ndarray, shape (skulls, draws)
        What is left now, stops let in.
    to_come_days : ndarray, shape (skulls, draws)
        Of the usual soak, what is to come where it stopped [days of the reference bath].
    """

    stopped: NDArray[np.bool_]
    left_share: FloatArray
    to_come_days: FloatArray


def find_stops(
    fit: TubFit, skulls: Iterable[int], left_share: FloatArray, rule: ClearRule
) -> Stops:
    """Return which ends at once are stops.

    Grease that leaves by any mixture of exponentials thins out gradually. Where the pace fell off
    faster than even a solid dissolves, or as no form can describe, an even release has ended, or
    the water grew cold, the bone left it, the haze floats off, or the rest is yet to come: no
    reading tells which. So such an end is believed as often as skulls of its kind are done by now.
    Otherwise the rest comes at their usual time, and as much is left as of an exponential decline
    until then.

    Parameters
    ----------
    fit : TubFit
        The tub.
    skulls : iterable of int
        Their places in its story.
    left_share : ndarray, shape (skulls, draws)
        What is left in each now, by the haze.
    rule : ClearRule
        What counts as degreased.
    """
    chance = np.random.default_rng((SEED, 1))  # apart from the draws' own
    evenness = np.concatenate([one.course.draws.tempo.evenness for one in fit.form_draws])
    undescribed = fit.whitening.noise.drift >= MOST_DRIFT_SHARE
    ended = ((evenness > EVENEST) | undescribed) & (left_share < rule.grease_left_share)
    left, to_come = left_share.copy(), np.zeros_like(left_share)
    stopped = np.zeros_like(ended)
    for row, skull in enumerate(skulls):
        usual = UsualTime.of(fit, skull, rule)
        soaks = usual.soaks_days(chance.random(left[row].shape))
        to_come[row] = usual.to_come_days(soaks)
        stopped[row] = ended[row] & (to_come[row] > 0)
        by_now = rule.grease_left_share ** (usual.soaked_days / soaks)
        left[row] = np.where(stopped[row], by_now, left[row])
    return Stops(stopped=stopped, left_share=left, to_come_days=to_come)


def with_stops(fit: TubFit, found: TubDates, plan: FilledPlan, rule: ClearRule) -> TubDates:
    """Return the dates of degreasing and the shares left with some ends taken for stops."""
    stops = find_stops(fit, map(int, _here(fit)), found.left_share, rule)
    later = fit.timeline.calendar.now_days + stops.to_come_days / _planned_pace(fit, plan)
    days = np.where(stops.stopped, later, found.degreased_days)
    return replace(found, degreased_days=days, left_share=stops.left_share)


def _here(fit: TubFit) -> NDArray[np.intp]:
    return np.flatnonzero(fit.timeline.present)


def _planned_pace(fit: TubFit, plan: FilledPlan) -> float:
    """Return how many days of the reference bath a day under a plan is worth."""
    course = run_course(fit.timeline, fit.fits[0].peak.draws)
    return float(routine_of(fit.timeline, course, plan).pace[0])
