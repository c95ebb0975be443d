"""The skulls: their list, a skull on its page, and new ones."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from typing import TYPE_CHECKING

from flask import Response, redirect, render_template, request, url_for

from greasecheck.errors import LiveError
from greasecheck.garage.answers import skull_tasks
from greasecheck.garage.milestones import SkullLife
from greasecheck.garage.skull_stages import skull_lives
from greasecheck.garage.soaks.answers import kept_answers, standing_briefs
from greasecheck.live.access.forms import choice_in
from greasecheck.live.entering import enter_once
from greasecheck.live.entries.lines import EntryLine, entries_of_skull
from greasecheck.live.fields import name_in, required_text, text_in, time_in, whole_in
from greasecheck.live.tubs.answering import garage_answers
from greasecheck.logbook.looks import looks_of
from greasecheck.logbook.records import Promise, Skull, SkullEvent, WeightClass
from greasecheck.logbook.renaming import rename_skull
from greasecheck.logbook.skulls.promises import standing_promises
from greasecheck.logbook.skulls.skulls import (
    enter_skull,
    is_known,
    list_skulls,
    name_of,
    skull_named,
)
from greasecheck.logbook.skulls.stays import soaking
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.table import LAST_TUB
from greasecheck.logbook.story import ShortStory, shortened, skull_story
from greasecheck.logbook.undo import newest_entry
from greasecheck.logbook.water.baths import list_tubs
from greasecheck.model import BodyCondition
from greasecheck.predict.tables import known_species
from greasecheck.reference.advice import advice_value
from greasecheck.stages import EventKind, Stage, allowed_after
from greasecheck.words.figures import capital
from greasecheck.words.stages import degreased_words

if TYPE_CHECKING:
    from collections.abc import Mapping

    from werkzeug.wrappers import Response as BaseResponse

    from greasecheck.answers import Task
    from greasecheck.live.parts import Live

TO_BE_WORKED_OUT = "its tub is being worked out"
KEPT_A_DAY = "private, max-age=86400"  # its address changes with the looks


@dataclass(frozen=True, slots=True, kw_only=True)
class SkullPage:
    """A skull on its page.

    `tub` is None while it soaks nowhere, `degreased` unless its grease is being leached;
    `is_worked_out` is false while its tub's answer is still to be renewed.
    """

    skull: Skull
    life: SkullLife
    tub: int | None
    is_worked_out: bool
    degreased: str | None
    allowed: tuple[EventKind, ...]
    promise: Promise | None
    story: ShortStory
    entries: tuple[EntryLine, ...]
    looks: int


def show_skulls(live: Live) -> str:
    """Show the skulls, those with something to do first, and the form for a new one."""
    now, answers = datetime.now(UTC), garage_answers(live)
    with Logbook(live.settings.logbook) as book:
        skulls = list_skulls(book)
        where = {stay.skull: stay.tub for stay in soaking(book)}
        briefs = standing_briefs(book, set(where.values()), now)
        tasks = skull_tasks(answers.today.values(), briefs)
        lives = sorted(skull_lives(book, skulls, briefs, now), key=partial(_due_first, now, tasks))
        tubs = [tub.number for tub in list_tubs(book)]
    return render_template(
        "skulls.html.j2",
        lives=lives,
        due={life.name for life in lives if _is_due(now, life)},
        tasks=tasks,
        where=where,
        now=now,
        being_weighed=answers.being_weighed,
        tubs=tubs,
        species=known_species(),
    )


def _due_first(
    now: datetime, tasks: Mapping[str, Task], life: SkullLife
) -> tuple[bool, bool, bool, float, str]:
    """Return the key by which what is due comes first, then what asks for something, then days."""
    at, asks = life.stage.next_at, life.name in tasks
    return not _is_due(now, life), not asks, at is None, at.timestamp() if at else 0.0, life.name


def _is_due(now: datetime, life: SkullLife) -> bool:
    """Return whether something is to be done with a skull; one that soaks is due once done."""
    stage = life.stage
    if stage.stage is Stage.SOAKING or stage.is_finished:
        return stage.done
    return stage.next_at is not None and stage.next_at <= now


def show_skull(live: Live) -> str:
    """Show the skull that the address names."""
    now, name = datetime.now(UTC), request.args.get("name", "")
    known = garage_answers(live).known
    with Logbook(live.settings.logbook) as book:
        skull = skull_named(book, name)
        tub = next((stay.tub for stay in soaking(book) if stay.skull == name), None)
        kept = {} if tub is None else standing_briefs(book, [tub], now)
        [life] = skull_lives(book, [skull], kept, now)
        soaks = life.stage.stage is Stage.SOAKING
        page = SkullPage(
            skull=skull,
            life=life,
            tub=tub,
            is_worked_out=tub is None or tub in known,
            degreased=capital(_degreased(book, tub, name, now)) if tub and soaks else None,
            allowed=allowed_after(life.stage.stage),
            promise=next((one for one in standing_promises(book) if one.skull == name), None),
            story=shortened(skull_story(book, name)),
            entries=entries_of_skull(book, name),
            looks=len(looks_of(book, name)),
        )
        tubs = [tub.number for tub in list_tubs(book)]
    return render_template(
        "skull.html.j2",
        page=page,
        tubs=tubs,
        now=now,
        species=known_species(),
        strength=advice_value("peroxide_low_percent"),
        hours=advice_value("whitening_low_hours"),
    )


def _degreased(book: Logbook, tub: int, name: str, now: datetime) -> str:
    """Return when a skull is degreased by what is kept about its tub, or why that is not told."""
    kept = kept_answers(book, [tub], now).get(tub)
    skulls = kept.brief.skulls if kept and kept.brief else ()
    one = next((skull for skull in skulls if skull.name == name), None)
    if one is None:
        return f"no date yet: {kept.fault if kept and kept.fault else TO_BE_WORKED_OUT}"
    return degreased_words(one.degreased_at, one.surely_degreased_at, one.withheld)


def show_strip(live: Live) -> Response:
    """Send the looks of the skull that the address names, side by side."""
    content = live.measurer.look_back(request.args.get("name", ""), live.settings.photos)
    if content is None:
        raise LiveError("no photo names this skull", hint="name it when its photo is logged")
    return Response(content, mimetype="image/png", headers={"Cache-Control": KEPT_A_DAY})


def add_skull(live: Live) -> BaseResponse:
    """Enter a new skull, with its first tub if one is chosen, or change what is known of one.

    A form for new skulls alone says so, and changes none that is entered.
    """
    form = request.form
    tub = whole_in(form, "tub", "tub", LAST_TUB)
    with Logbook(live.settings.logbook) as book:
        name = name_of(book, required_text(form, "name", "name of the skull"))

    def enter(book: Logbook) -> None:
        if form.get("is_new") and is_known(book, name):
            raise LiveError(
                f"a skull {name} is entered already",
                hint="give the new one another name; a skull's page changes what is known of it",
            )
        enter_skull(book, _skull(form, name), _first(form, name, tub))

    return enter_once(live, enter, url_for("skull", name=name))


def rename(live: Live) -> BaseResponse:
    """Give a skull another name, or say that two names are one skull."""
    form = request.form
    old = required_text(form, "skull", "skull")
    with Logbook(live.settings.logbook) as book:
        new = name_of(book, required_text(form, "name", "new name"))

        def work() -> str:
            rename_skull(book, old, new, merge=bool(form.get("merge")))
            return url_for("skull", name=new, entry=newest_entry(book))

        return redirect(live.forms.once(form, request.path, work), 303)


def _skull(form: Mapping[str, str], name: str) -> Skull:
    return Skull(
        name=name,
        species=name_in(form, "species"),
        weight_class=choice_in(form, "weight", WeightClass),
        condition=choice_in(form, "condition", BodyCondition),
        owner=name_in(form, "owner"),
        note=text_in(form, "note"),
    )


def _first(form: Mapping[str, str], name: str, tub: int | None) -> SkullEvent | None:
    if tub is None:
        return None
    return SkullEvent(skull=name, happened_at=time_in(form), kind=EventKind.ENTERED, tub=tub)
