"""The list of the garage from what is kept: quick, nothing heavy, each answer with its age."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from greasecheck.answers import due_first, most_pressing_first
from greasecheck.garage.answers import stage_tasks, tub_answer
from greasecheck.garage.milestones import SkullLife, all_milestones
from greasecheck.garage.promises import promise_odds, promise_tasks
from greasecheck.garage.soaks.answers import kept_answers, kept_dates
from greasecheck.logbook.skulls.promises import standing_promises
from greasecheck.logbook.skulls.skulls import list_skulls
from greasecheck.logbook.today import CLOCKS_APART, garage_today
from greasecheck.predict.advice.stage import skull_stage

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.answers import Task, TubAnswer
    from greasecheck.garage.soaks.answers import Answer
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.logbook.today import TubToday


@dataclass(frozen=True, slots=True, kw_only=True)
class GarageList:
    """How the garage stands by what is kept.

    Attributes
    ----------
    tubs : tuple of TubAnswer
        What is due first; those that are out of date say so.
    steps : tuple of Task
        Promises in danger, and what is next for skulls outside of a degreasing bath.
    today : tuple of TubToday
        How each tub stands by the log, by number.
    """

    tubs: tuple[TubAnswer, ...]
    steps: tuple[Task, ...]
    today: tuple[TubToday, ...]

    @property
    def out_of_date(self) -> tuple[int, ...]:
        """Return the tubs whose answers are to be worked out anew."""
        return tuple(one.tub for one in self.tubs if not one.is_current)


def kept_list(book: Logbook, now: datetime, made: Sequence[Answer] = ()) -> GarageList:
    """Return the list of the garage.

    Parameters
    ----------
    book : Logbook
        Where to look.
    now : datetime.datetime
        Zone-aware; what is kept as of later times says nothing of it.
    made : sequence of Answer
        Answers that were just worked out, and need not be kept.
    """
    today = garage_today(book, now)
    found = kept_answers(book, [one.tub.number for one in today], now)
    kept = {tub: one for tub, one in found.items() if one.made_at <= now + CLOCKS_APART}
    kept |= {one.tub: one for one in made}
    reached = all_milestones(book)
    lives = (
        SkullLife(
            name=skull.name,
            owner=skull.owner,
            stage=skull_stage(reached.get(skull.name, ()), now),
        )
        for skull in list_skulls(book)
    )
    odds = promise_odds(standing_promises(book), reached, kept_dates(kept.values()), now)
    return GarageList(
        tubs=due_first(tuple(kept_answer(one, kept.get(one.tub.number)) for one in today)),
        steps=most_pressing_first([*promise_tasks(odds), *stage_tasks(lives, now)]),
        today=today,
    )


def kept_answer(today: TubToday, kept: Answer | None) -> TubAnswer:
    """Return the answer about a tub; one whose skulls only rinse needs nothing worked out.

    Parameters
    ----------
    today : TubToday
        How it stands by the log.
    kept : Answer or None
        What is kept about it, fresh or stale; the answer says which, and of when it is.
    """
    if not today.skulls or today.rinses or today.bath is None:
        return tub_answer(today, None, made_at=today.at)
    if kept is None:
        return replace(tub_answer(today, None), is_current=False)
    answer = tub_answer(today, kept.brief, fault=kept.fault or "", made_at=kept.made_at)
    return replace(answer, is_current=not kept.stale)
