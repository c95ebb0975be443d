"""A tub fitted once, so that it can be asked under many plans."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.fit.done_prior import DoneTime, skull_time
from greasecheck.predict.fit.moves import joined
from greasecheck.predict.fit.posterior import SEED, FormFit, fit_forms
from greasecheck.predict.fit.unlogged import find_unlogged, fit_before_falls, with_changes
from greasecheck.predict.model.course import Course, run_course
from greasecheck.predict.model.history import build_timeline, story_skulls
from greasecheck.predict.model.warmth import logged_c
from greasecheck.predict.one_thread import on_one_thread

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.model import FloatArray
    from greasecheck.predict.fit.noise import Whitening
    from greasecheck.predict.forecast_records import UnloggedChange
    from greasecheck.predict.model.timeline import Timeline
    from greasecheck.predict.records import (
        EarlierSoak,
        FinishedTub,
        SoakingSkull,
        TubHistory,
    )

DRAWS = 2000  # a chance of 1 in 10 is told to 0.7 in 100 (binomial), by half as many to 1
EARLIER_KEPT = 64  # of the tubs that skulls came from, asked about together


@dataclass(frozen=True, slots=True, kw_only=True)
class FormDraws:
    """Equally likely draws of one form.

    Attributes
    ----------
    course : Course
        The tub under each draw.
    log_done_days : ndarray, shape (skulls, draws)
        Log of the days of the reference bath until each skull is done.
    tail : ndarray, shape (draws,)
        Standard normal: how far the grease still to come departs from the form's.
    """

    course: Course
    log_done_days: FloatArray
    tail: FloatArray

    def thinned(self, every: int) -> FormDraws:
        """Return each `every`-th draw."""
        columns = np.arange(0, len(self.tail), every)
        return FormDraws(
            course=self.course.picked(columns),
            log_done_days=self.log_done_days.take(columns, axis=-1),
            tail=self.tail[columns],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class TubFit:
    """A fitted tub.

    Attributes
    ----------
    now : datetime.datetime
        The time of the fit.
    timeline : Timeline
        The story, unlogged changes put in.
    skulls : tuple of SoakingSkull
        Skulls of the story, those taken out since included.
    done_times : tuple of DoneTime
        What was expected of each before it was read.
    unlogged : tuple of UnloggedChange
        Changes nobody logged.
    fits : tuple of FormFit
        Posterior under each form left, weightiest first.
    whitening : Whitening
        The readings' covariance.
    form_draws : tuple of FormDraws
        The draws of each form; all of them are equally likely, over all forms.
    volume_l : float or None
        Of the full tub [L].
    bath_c : float or None
        Temperature of the bath as logged last [degrees C]; None where none was.
    """

    now: datetime
    timeline: Timeline
    skulls: tuple[SoakingSkull, ...]
    done_times: tuple[DoneTime, ...]
    unlogged: tuple[UnloggedChange, ...]
    fits: tuple[FormFit, ...]
    whitening: Whitening
    form_draws: tuple[FormDraws, ...]
    volume_l: float | None
    bath_c: float | None


@on_one_thread
def fit_tub(history: TubHistory, now: datetime, *, finished: Sequence[FinishedTub] = ()) -> TubFit:
    """Fit a tub's history as known at `now`; later entries are not looked at.

    Parameters
    ----------
    history : TubHistory
        Skulls, changes, readings and temperatures.
    now : datetime.datetime
        Zone-aware.
    finished : sequence of FinishedTub
        The user's own finished tubs, which bend the species table.

    Raises
    ------
    ForecastError
        For a tub without a skull or filling, or with impossible entries; for a finished tub that
        took no time.
    """
    build_timeline(history, now)  # refuses what makes no sense before anything is worked out
    history = joined(history)
    skulls = story_skulls(history, now)
    done_times = tuple(_done_time(skull, finished) for skull in skulls)
    first = fit_before_falls(history, now, done_times)
    unlogged = find_unlogged(history, now, first)
    timeline = build_timeline(with_changes(history, unlogged), now)
    found, cold = fit_forms(timeline, first), timeline.calendar.steps.cold
    return TubFit(
        now=now,
        timeline=timeline,
        skulls=skulls,
        done_times=done_times,
        unlogged=unlogged,
        fits=found.fits,
        whitening=found.whitening,
        form_draws=tuple(
            _form_draws(timeline, fit) for fit in found.fits if round(DRAWS * fit.weight)
        ),
        volume_l=history.volume_l,
        bath_c=cold.temperature_c if cold else logged_c(history, now),
    )


def _done_time(skull: SoakingSkull, finished: Sequence[FinishedTub]) -> DoneTime:
    """Return what is expected of a skull: of its species, or by the tub that it came from."""
    if not skull.earlier:
        return skull_time(skull.species, finished, condition=skull.condition)
    mean, std = _log_days_by(skull.earlier[-1], skull.name, tuple(finished))
    return DoneTime(log_mean=mean, scatter_log_std=std, shared_log_std=0.0)


@lru_cache(maxsize=EARLIER_KEPT)
def _log_days_by(
    soak: EarlierSoak, name: str, finished: tuple[FinishedTub, ...]
) -> tuple[float, float]:
    """Return the mean and spread of the log of a skull's time by a tub that it came from.

    It is asked for with each fit of the tub that the skull is in now, and stays the same.
    """
    fit = fit_tub(soak.tub, soak.until, finished=finished)
    row = next(n for n, one in enumerate(fit.skulls) if one.name == name)
    log_days = np.concatenate([drawn.log_done_days[row] for drawn in fit.form_draws])
    return float(log_days.mean()), float(log_days.std())


def _form_draws(timeline: Timeline, fit: FormFit) -> FormDraws:
    """Resample equally likely draws of one form, as many as its weight earns.

    About half of them are there twice or more, and are worked out once.
    """
    count = round(DRAWS * fit.weight)
    ranks = (np.arange(count) + 0.5) / count
    chosen = np.searchsorted(np.cumsum(fit.draws.weights), ranks)
    last = fit.draws.points.shape[1] - 1
    distinct, columns = np.unique(np.minimum(chosen, last), return_inverse=True)
    points = fit.draws.points[:, distinct]
    return FormDraws(
        course=run_course(timeline, fit.peak.parameters.draws(points)).picked(columns),
        log_done_days=fit.peak.parameters.log_done_days(points)[:, columns],
        tail=np.random.default_rng(SEED).standard_normal(count),
    )


def thinned_draws(fit: TubFit, draws: int) -> tuple[FormDraws, ...]:
    """Return every so-many-th draw of each form, about `draws` in all."""
    total = sum(len(drawn.tail) for drawn in fit.form_draws)
    every = max(1, total // draws)
    return tuple(drawn.thinned(every) for drawn in fit.form_draws)
