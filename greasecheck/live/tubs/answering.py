"""The answers about all tubs as far as they are worked out, for every page that shows some."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from greasecheck.answers import due_first, most_pressing_first
from greasecheck.garage.answers import stage_tasks, tub_answer
from greasecheck.garage.kept_list import kept_answer
from greasecheck.garage.milestones import milestones
from greasecheck.garage.promises import promise_odds, promise_tasks
from greasecheck.garage.skull_stages import skull_lives
from greasecheck.garage.soaks.answers import kept_answers, kept_dates
from greasecheck.logbook.skulls.promises import standing_promises
from greasecheck.logbook.skulls.skulls import list_skulls
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.today import garage_today, logbook_mark

if TYPE_CHECKING:
    from greasecheck.answers import Task, TubAnswer
    from greasecheck.garage.promises import PromiseOdds, ReadyDates
    from greasecheck.garage.soaks.answers import Answer
    from greasecheck.live.parts import Live
    from greasecheck.live.tubs.weighing import Weighed
    from greasecheck.logbook.today import TubToday


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """How the garage stands.

    Attributes
    ----------
    now : datetime.datetime
        The time of it.
    tubs : tuple of TubAnswer
        What is due first.
    steps : tuple of Task
        What is next for skulls outside of a degreasing bath.
    today : dict of int to TubToday
        How each tub stands by the log, by its number.
    known : dict of int to Weighed
        What was worked out of the tubs and still holds, by number.
    promises : tuple of PromiseOdds
        What was promised, with its odds now, the nearest day first.
    dates : dict of str to ReadyDates
        When each skull is degreased, as far as that is worked out and stands.
    """

    now: datetime
    tubs: tuple[TubAnswer, ...]
    steps: tuple[Task, ...]
    today: dict[int, TubToday]
    known: dict[int, Weighed]
    promises: tuple[PromiseOdds, ...]
    dates: dict[str, ReadyDates]

    @property
    def being_weighed(self) -> int:
        """Return how many tubs are still being worked out."""
        return len(self.tubs) - len(self.known)


def garage_answers(live: Live) -> Answers:
    """Return the answers, kept ones until they are renewed, and begin to renew the others."""
    now = datetime.now(UTC)
    with Logbook(live.settings.logbook) as book, book.snapshot():
        mark, tubs = logbook_mark(book), garage_today(book, now)
        kept = kept_answers(book, [today.tub.number for today in tubs], now)
        steps = list(stage_tasks(skull_lives(book, list_skulls(book), {}, now), now))
        promises = standing_promises(book)
        reached = {one.skull: milestones(book, one.skull) for one in promises}
    weighed = live.weigher.advice(tubs, mark)
    known = {
        today.tub.number: weighed[today.tub.number]
        for today in tubs
        if today.tub.number in weighed and weighed[today.tub.number].fits(today)
    }
    numbered = {today.tub.number: today for today in tubs}
    found = tuple(
        known[number].answer if number in known else _kept(today, kept.get(number))
        for number, today in numbered.items()
    )
    dates: dict[str, ReadyDates] = {
        **kept_dates(one for number, one in kept.items() if number not in known),
        **{name: dates for one in known.values() for name, dates in one.dates.items()},
    }
    odds = promise_odds(promises, reached, dates, now)
    return Answers(
        now=now,
        tubs=due_first(found),
        steps=most_pressing_first([*promise_tasks(odds), *steps]),
        promises=odds,
        dates=dates,
        today=numbered,
        known=known,
    )


def _kept(today: TubToday, kept: Answer | None) -> TubAnswer:
    """Return a kept answer; of one from before an entry the date alone: its advice may be done."""
    answer = kept_answer(today, kept)
    if kept is None or not kept.overtaken:
        return answer
    return replace(answer, tasks=tub_answer(today, None).tasks)
