"""The guided setup: one step after another, each of which can be left and taken up."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import redirect, render_template, request, url_for

from greasecheck.errors import LiveError
from greasecheck.live.access.forms import choice_in, number_in
from greasecheck.live.fields import name_in, required_text, text_in, time_in, whole_in
from greasecheck.live.setup.steps import MEASURED_BY, setup_steps
from greasecheck.logbook.records import Skull, SkullEvent, Tub
from greasecheck.logbook.settings import MOST_PRICE, Setting, put_settings
from greasecheck.logbook.skulls.skulls import enter_skull, name_of
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.table import LAST_TUB
from greasecheck.logbook.store.tables import LEAST_L
from greasecheck.logbook.undo import newest_entry
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub
from greasecheck.model import Recipe
from greasecheck.predict.tables import known_species
from greasecheck.stages import EventKind

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from werkzeug.wrappers import Response

    from greasecheck.live.parts import Live

PAPERS = ("a4", "letter")


def show_setup(live: Live) -> str:
    """Show the steps: those that are done folded, the next one open."""
    with Logbook(live.settings.logbook, create=True) as book:
        steps = setup_steps(book)
    return render_template(
        "setup.html.j2",
        steps=steps,
        opened=request.args.get("step") or steps.next_step,
        recipes=tuple(Recipe),
        species=known_species(),
        setting=Setting,
    )


def choose(live: Live) -> Response:
    """Keep a choice of the setup, and go on with the next step."""
    form = request.form
    chosen = _choices(form)
    if not chosen:
        raise LiveError("nothing is chosen", hint="choose one, then tap the button")
    with Logbook(live.settings.logbook, create=True) as book:

        def work() -> str:
            put_settings(book, chosen)
            return url_for("setup", entry=newest_entry(book))

        return redirect(live.forms.once(form, request.path, work), 303)


def _choices(form: Mapping[str, str]) -> dict[Setting, str]:
    chosen: dict[Setting, str] = {}
    if form.get("measured_by") in MEASURED_BY:
        chosen[Setting.MEASURED_BY] = form["measured_by"]
    if form.get("paper") in PAPERS:
        chosen[Setting.PAPER] = form["paper"]
    for name in (Setting.PRINT_CHECKED, Setting.STAND_CHECKED, Setting.TAGS_PRINTED):
        if form.get(name):
            chosen[name] = "yes"
    for name, what in (
        (Setting.CHANGE_PRICE, "price of a water change"),
        (Setting.DAY_PRICE, "price of a day"),
    ):
        price = number_in(form, name, what, 0.0, MOST_PRICE)
        if price is not None:
            chosen[name] = f"{price:g}"
    return chosen


def add_filled_tub(live: Live) -> Response:
    """Enter a tub with its bath and what soaks in it, all at once or nothing of it."""
    form = request.form
    number = whole_in(form, "number", "number of the tub", LAST_TUB)
    if number is None:
        raise LiveError("the number of the tub is missing", hint="type the number of its tag")
    recipe, filled_at = choice_in(form, "recipe", Recipe), time_in(form)
    warm_c = number_in(form, "temperature", "temperature", 0.0, 100.0)
    tub = Tub(
        number=number,
        name=name_in(form, "name"),
        volume_l=number_in(form, "litres", "litres", LEAST_L, 100_000.0),
    )
    with Logbook(live.settings.logbook, create=True) as book:

        def work() -> str:
            with book.joint_entry(f"tub {number} with what is in it"):
                enter_tub(book, tub)
                if recipe is not None:
                    filling = Filling(recipe=recipe, temperature_c=warm_c)
                    change_water(book, [number], filled_at, filling)
                if text_in(form, "skull"):
                    _enter_soaking(book, form, number, filled_at)
            return url_for("setup", step="tubs", entry=newest_entry(book))

        return redirect(live.forms.once(form, request.path, work), 303)


def _enter_soaking(book: Logbook, form: Mapping[str, str], tub: int, since: datetime) -> None:
    """Enter the skull that a form names, in a tub since its filling."""
    skull = Skull(
        name=name_of(book, required_text(form, "skull", "name of the skull")),
        species=name_in(form, "species"),
        owner=name_in(form, "owner"),
    )
    first = SkullEvent(skull=skull.name, happened_at=since, kind=EventKind.ENTERED, tub=tub)
    enter_skull(book, skull, first)
