"""The first page: what to do now, photos to take, and each tub with its big button."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from flask import render_template

from greasecheck.garage.skull_stages import skull_lives
from greasecheck.live.words import age, moment
from greasecheck.logbook.skulls.skulls import list_skulls
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.last_link import logbook_mark
from greasecheck.logbook.today import garage_today
from greasecheck.logbook.undo import last_entry
from greasecheck.model import Recipe, Verdict
from greasecheck.report.season.records import Fact
from greasecheck.report.season.tasks import most_pressing_first, stage_task, tub_tasks
from greasecheck.report.words import haze_words, tub_title

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from greasecheck.live.parts import Live
    from greasecheck.live.tubs.weighing import Weighed
    from greasecheck.logbook.today import TubToday
    from greasecheck.logbook.undo import LastEntry
    from greasecheck.report.season.records import Task


@dataclass(frozen=True, slots=True, kw_only=True)
class TubPart:
    """A tub on the page.

    Attributes
    ----------
    today : TubToday
        How it stands by the log.
    title, inside, headline : str
        Its name, what soaks in it, and how it stands by its last weighing.
    facts : tuple of Fact
        Its numbers.
    weighed_at : datetime.datetime or None
        When the headline was true; None while it is being weighed.
    """

    today: TubToday
    title: str
    inside: str
    headline: str
    facts: tuple[Fact, ...]
    weighed_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TodayPage:
    """All that the first page shows; `being_weighed` counts tubs whose advice is out of date."""

    now: datetime
    tasks: tuple[Task, ...]
    tubs: tuple[TubPart, ...]
    being_weighed: int
    weighed_at: datetime | None
    last: LastEntry | None


def show_today(live: Live) -> str:
    """Show today's list and the tubs; what is not weighed yet says so."""
    return render_template("today.html.j2", page=_today_page(live), recipes=tuple(Recipe))


def tell_weighed(live: Live) -> dict[str, int]:
    """Tell the page's script how many tubs are still being weighed."""
    return {"being_weighed": _today_page(live).being_weighed}


def _today_page(live: Live) -> TodayPage:
    now = datetime.now(UTC)
    with Logbook(live.settings.logbook) as book, book.snapshot():
        mark, tubs = logbook_mark(book), garage_today(book, now)
        steps = _steps(book, now)
        last = last_entry(book)
    known = live.weigher.advice(tubs, mark)
    fresh = {
        today.tub.number: known[today.tub.number]
        for today in tubs
        if today.tub.number in known and known[today.tub.number].fits(today)
    }
    return TodayPage(
        now=now,
        tasks=most_pressing_first([*_tub_tasks(tubs, fresh), *steps]),
        tubs=tuple(_tub_part(today, fresh.get(today.tub.number)) for today in tubs),
        being_weighed=len(tubs) - len(fresh),
        weighed_at=min((one.today.at for one in fresh.values()), default=None),
        last=last,
    )


def _steps(book: Logbook, now: datetime) -> list[Task]:
    lives = skull_lives(book, list_skulls(book), {}, now)
    steps = [stage_task(life.name, life.stage, now) for life in lives]
    return [step for step in steps if step is not None]


def _tub_tasks(tubs: Sequence[TubToday], fresh: Mapping[int, Weighed]) -> Iterator[Task]:
    for today in tubs:
        weighed = fresh.get(today.tub.number)
        yield from weighed.tasks if weighed else tub_tasks(today, None)


def _tub_part(today: TubToday, weighed: Weighed | None) -> TubPart:
    return TubPart(
        today=today,
        title=tub_title(today.tub.number, today.tub.name),
        inside=", ".join(today.skulls),
        headline=weighed.headline if weighed else "",
        facts=tuple(_facts(today)),
        weighed_at=weighed.today.at if weighed else None,
    )


def _facts(today: TubToday) -> Iterator[Fact]:
    if today.haze is not None:
        doubt = ", doubtful" if today.haze.verdict is Verdict.DOUBTFUL else ""
        read = f"read {moment(today.haze.taken_at, today.at)}{doubt}"
        yield Fact(name="Haze", value=haze_words(today.haze), meaning=read)
    if today.bath is not None:
        warm = today.bath.temperature_c
        yield Fact(
            name="Water",
            value=f"{age(today.at - today.bath.filled_at)} old",
            meaning=f"{today.bath.recipe}" + ("" if warm is None else f" at {warm:g} °C"),
        )
    if today.bone is not None:
        yield Fact(
            name="Bone yellowness",
            value=f"{today.bone.bone_yi_e313:.0f} ± {today.bone.bone_yi_std or 0:.0f} (E313)",
            meaning=f"read {moment(today.bone.taken_at, today.at)}",
        )
