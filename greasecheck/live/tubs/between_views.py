"""Between water changes: the temperature of a bath, and what was poured in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import request, url_for

from greasecheck.errors import LiveError
from greasecheck.live.access.forms import number_in
from greasecheck.live.entering import enter_once
from greasecheck.live.fields import time_in
from greasecheck.live.tubs.fact_views import MOST_LITRES
from greasecheck.logbook.records import BathTemperature, ToppedUp
from greasecheck.logbook.water.between import enter_temperature, enter_top_up

if TYPE_CHECKING:
    from werkzeug.wrappers import Response

    from greasecheck.live.parts import Live


def enter_warmth(live: Live, number: int) -> Response:
    """Enter what a bath is at."""
    temperature_c = _required("temperature", "temperature", 0.0, 100.0)
    found = BathTemperature(tub=number, at=time_in(request.form), temperature_c=temperature_c)
    return enter_once(
        live, lambda book: enter_temperature(book, found), url_for("tub", number=number)
    )


def enter_topped_up(live: Live, number: int) -> Response:
    """Enter that a bath was topped up."""
    litres = _required("litres", "litres", 0.001, MOST_LITRES)
    poured = ToppedUp(tub=number, at=time_in(request.form), litres=litres)
    return enter_once(live, lambda book: enter_top_up(book, poured), url_for("tub", number=number))


def _required(name: str, what: str, lowest: float, highest: float) -> float:
    value = number_in(request.form, name, what, lowest, highest)
    if value is None:
        raise LiveError(f"the {what} is missing", hint="type it")
    return value
