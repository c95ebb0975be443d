"""The odds of promises: how likely each promised skull is ready by its day, and what to promise."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from greasecheck.answers import Finding, Task
from greasecheck.garage.milestones import milestones
from greasecheck.logbook.skulls.promises import standing_promises
from greasecheck.logbook.skulls.stays import soaking
from greasecheck.predict.advice.stage import left_to_do, skull_stage
from greasecheck.predict.records import SoakingSkull, TubHistory, WaterChange
from greasecheck.stages import Stage

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from datetime import datetime

    from greasecheck.logbook.records import Promise
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.predict.advice.decisions import TubAdvice
    from greasecheck.predict.advice.stage import Milestone
    from greasecheck.predict.forecast_records import ClearDates

# A promise is made on a day that holds with 9 in 10. One whose odds are below 7 in 10, and fell
# by a tenth, is reported as in danger; at 5 in 10 the owner would learn of it too late.
SAFE, FELL = 0.7, 0.1


class ReadyDates(Protocol):
    """When a skull is degreased: `ClearDates`, or what is kept of them."""

    def probability_by(self, when: datetime) -> float:
        """Return the probability, 0 to 1, that it is so by `when`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PromiseOdds:
    """A promise and the odds now that it is kept; `now` is None while they are unknown."""

    promise: Promise
    now: float | None

    @property
    def in_danger(self) -> bool:
        """Return whether its owner should hear of it."""
        first = 1.0 if self.promise.probability is None else self.promise.probability
        return self.now is not None and self.now < SAFE and self.now < first - FELL


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """What to promise for a new skull: ready as likely before as after, and with 9 in 10."""

    species: str
    middle: datetime | None
    late: datetime | None
    own: int


def odds_by(
    ready_by: datetime,
    now: datetime,
    reached: Sequence[Milestone],
    dates: ReadyDates | None,
) -> float | None:
    """Return the probability that a skull is ready by a day.

    Parameters
    ----------
    ready_by : datetime.datetime
        The day.
    now : datetime.datetime
        Zone-aware.
    reached : sequence of Milestone
        What the skull went through.
    dates : ReadyDates or None
        When it is degreased, while it soaks for that.
    """
    stage = skull_stage(reached, now)
    if stage.stage is Stage.RETURNED:
        return 1.0
    if stage.stage is Stage.SOAKING:
        return None if dates is None else dates.probability_by(ready_by - left_to_do(stage.stage))
    if stage.promise_at is None:
        return None
    return 1.0 if stage.promise_at <= ready_by else 0.0


def promise_tasks(odds: Iterable[PromiseOdds]) -> Iterator[Task]:
    """Yield the promises in danger as tasks."""
    for one in odds:
        if one.in_danger and one.now is not None:
            first = one.promise.probability
            yield Task(
                finding=Finding.PROMISE_AT_RISK,
                skull=one.promise.skull,
                since=one.promise.ready_by,
                values=(one.now,) if first is None else (first, one.now),
            )


def offer_for(book: Logbook, species: str, now: datetime) -> Offer:
    """Return what to promise for a new skull of a species that goes into a fresh bath now.

    Parameters
    ----------
    book : Logbook
        Whose finished skulls it leans on.
    species : str
        As in the species table.
    now : datetime.datetime
        Zone-aware.
    """
    from greasecheck.garage.series import finished_tubs  # noqa: PLC0415 - loads scikit-image
    from greasecheck.predict.outlook.forecasting import forecast  # noqa: PLC0415 - loads scipy

    finished = finished_tubs(book)
    skull = SoakingSkull(name="new", species=species, since=now)
    history = TubHistory(skulls=(skull,), changes=(WaterChange(at=now),), readings=())
    found = forecast(history, now, finished=finished)
    middle, late = (found.degreased.quantile(share) for share in (0.5, 0.9))
    left = left_to_do(Stage.SOAKING)
    return Offer(
        species=species,
        middle=middle and middle + left,
        late=late and late + left,
        own=len(finished),
    )


def skull_dates(book: Logbook, name: str, now: datetime) -> ClearDates | None:
    """Return when a skull is degreased; None while that is unknown, or it soaks in none."""
    from greasecheck.garage.soaks.refresh import advice_of_tubs  # noqa: PLC0415 - loads scipy

    tubs = [stay.tub for stay in soaking(book) if stay.skull == name]
    return dates_in((advice for _, advice in advice_of_tubs(book, tubs, now)), name)


def dates_in(advised: Iterable[TubAdvice | None], name: str) -> ClearDates | None:
    """Return when a skull is degreased by the advice for its tub; None where none tells it."""
    told = (one.skull_dates[name] for one in advised if one and name in one.skull_dates)
    return next(told, None)


def standing_odds(book: Logbook, now: datetime) -> tuple[PromiseOdds, ...]:
    """Return what is promised with its odds, worked out now; the nearest day first."""
    promises = standing_promises(book)
    reached = {one.skull: milestones(book, one.skull) for one in promises}
    soaks = {one.skull: skull_dates(book, one.skull, now) for one in promises}
    dates = {name: found for name, found in soaks.items() if found is not None}
    return promise_odds(promises, reached, dates, now)


def promise_odds(
    promises: Iterable[Promise],
    reached: Mapping[str, Sequence[Milestone]],
    dates: Mapping[str, ReadyDates],
    now: datetime,
) -> tuple[PromiseOdds, ...]:
    """Return each promise with its odds now; arguments by the skull's name as for `odds_by`."""
    return tuple(
        PromiseOdds(
            promise=one,
            now=odds_by(one.ready_by, now, reached.get(one.skull, ()), dates.get(one.skull)),
        )
        for one in promises
    )
