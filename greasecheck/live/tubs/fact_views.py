"""What is known of a tub: entered, changed, found well, renumbered; a reading by eye or hand."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

from flask import redirect, request, url_for

from greasecheck.errors import LiveError
from greasecheck.garage.ladder.eye import reading_by_eye
from greasecheck.live.access.forms import choice_in, number_in
from greasecheck.live.entering import enter_once
from greasecheck.live.fields import name_in, text_in, time_in, whole_in
from greasecheck.logbook.readings.readings import enter_by_hand
from greasecheck.logbook.records import HandReading, Tub
from greasecheck.logbook.renaming import renumber_tub
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.table import LAST_TUB
from greasecheck.logbook.store.tables import LEAST_L
from greasecheck.logbook.undo import newest_entry
from greasecheck.logbook.water.baths import enter_tub, list_tubs
from greasecheck.model import BoneState, Bound

if TYPE_CHECKING:
    from collections.abc import Mapping

    from werkzeug.wrappers import Response

    from greasecheck.live.parts import Live

MOST_LITRES, MOST_PER_M, MOST_YELLOWNESS, MOST_BAR_MM = 100_000.0, 10_000.0, 200.0, 1000.0
# What an eye sees through a hand's breadth of bath water [1/m], as a bound to either side: a text
# 100 mm behind the water is read down to a contrast of about 5 % (Duntley 1948: c = -ln 0.05 / d).
BY_EYE = {"clear": (1.0, Bound.BELOW), "milky": (30.0, Bound.ABOVE)}


def add_tub(live: Live) -> Response:
    """Enter a new tub."""
    number = whole_in(request.form, "number", "number of the tub", LAST_TUB)
    if number is None:
        raise LiveError("the number of the tub is missing", hint="type the number of its tag")
    tub = _tub(number)

    def enter(book: Logbook) -> None:
        if any(known.number == number for known in list_tubs(book)):
            raise LiveError(
                f"a tub {number} is entered already",
                hint="type another number; a tub's page changes what is known of it",
            )
        enter_tub(book, tub)

    return enter_once(live, enter, url_for("tub", number=number))


def enter_facts(live: Live, number: int) -> Response:
    """Change what is known of a tub; what is left blank stays."""
    tub = _tub(number)
    return enter_once(live, lambda book: enter_tub(book, tub), url_for("tub", number=number))


def _tub(number: int) -> Tub:
    """Return what a form says of a tub."""
    form = request.form
    return Tub(
        number=number,
        name=name_in(form, "name"),
        volume_l=number_in(form, "litres", "litres", LEAST_L, MOST_LITRES),
        started_at=_day_in(form),
        note=text_in(form, "note"),
    )


def enter_checked(live: Live, number: int) -> Response:
    """Enter that heater, soap and bones of a tub were found well."""
    form = request.form
    found_well = Tub(number=number, checked_at=time_in(form))
    return enter_once(live, lambda book: enter_tub(book, found_well), url_for("tub", number=number))


def renumber(live: Live, number: int) -> Response:
    """Give a tub another number, or say that two numbers are one tub."""
    form = request.form
    new = whole_in(form, "number", "number of the tub", LAST_TUB)
    if new is None:
        raise LiveError("the new number is missing", hint="type it")
    with Logbook(live.settings.logbook) as book:

        def work() -> str:
            renumber_tub(book, number, new, merge=bool(form.get("merge")))
            return url_for("tub", number=new, entry=newest_entry(book))

        return redirect(live.forms.once(form, request.path, work), 303)


def enter_reading(live: Live, number: int) -> Response:
    """Enter a reading without a photo: by eye, or by another instrument."""
    form = request.form
    reading = _hand_reading(form, number)
    return enter_once(
        live, lambda book: enter_by_hand(book, reading), url_for("tub", number=number)
    )


def _hand_reading(form: Mapping[str, str], number: int) -> HandReading:
    last_bar_mm = number_in(form, "last_bar", "number at the bar", 0.0, MOST_BAR_MM)
    if last_bar_mm is not None:
        return reading_by_eye(number, time_in(form), last_bar_mm)
    seen = form.get("seen", "")
    haze, bound = BY_EYE.get(seen, (None, None))
    if haze is None:
        haze = number_in(form, "haze", "haze", 0.0, MOST_PER_M)
        bound = choice_in(form, "bound", Bound)
    return HandReading(
        tub=number,
        taken_at=time_in(form),
        attenuation_per_m=haze,
        attenuation_std_per_m=number_in(form, "std", "standard error", 0.0, MOST_PER_M)
        or (0.0 if bound else None),
        bound=bound,
        bone_yi_e313=number_in(form, "yellowness", "yellowness", -MOST_YELLOWNESS, MOST_YELLOWNESS),
        bone_yi_std=number_in(form, "yellowness_std", "standard error", 0.0, MOST_YELLOWNESS),
        bone_state=choice_in(form, "state", BoneState),
        skull=text_in(form, "skull"),
        note=text_in(form, "note") or ("by eye" if seen in BY_EYE else None),
    )


def _day_in(form: Mapping[str, str]) -> datetime | None:
    text = form.get("started", "").strip()
    if not text:
        return None
    try:
        return datetime.fromisoformat(text).astimezone(UTC)
    except (ValueError, OverflowError) as error:
        raise LiveError(f"'{text[:20]}' is no day", hint="choose the day again") from error
