"""How warm a tub's water was: what went in, what somebody measured, and what follows from both."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from greasecheck.reference.advice import advice_value

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.model import Recipe
    from greasecheck.predict.records import TemperatureRecord, TubHistory, WaterChange

# Time constant of an unheated tub: 60 L lose about 12 W per kelvin through a quarter of a square
# metre of open water and the walls (free convection and evaporation, about 10 W/(m2 K); from
# memory). In effect its water is warm for that long and cold from then on.
COOLING = timedelta(hours=6)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A time from which on a recipe or temperature holds; None where it stays as it was."""

    at: datetime
    recipe: Recipe | None
    temperature_c: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ColdWater:
    """Water measured much colder than it went in, and found warm by nobody since.

    Attributes
    ----------
    at : datetime.datetime
        When it was measured.
    temperature_c, filled_c : float
        What was measured, and what went in before [degrees C].
    """

    at: datetime
    temperature_c: float
    filled_c: float


def warmth(
    changes: Sequence[WaterChange], records: Sequence[TemperatureRecord]
) -> tuple[tuple[Stop, ...], ColdWater | None]:
    """Return the recipes and temperatures of a tub over time, and its cold water if that stands.

    Water that is filled in warm may cool within hours. So where a bath was measured much
    colder than it was filled, later fillings are taken to cool to that, too, until the water is
    measured warm, or filled as cold.

    Parameters
    ----------
    changes : sequence of WaterChange
        Fillings.
    records : sequence of TemperatureRecord
        What was measured between them.
    """
    stops: list[Stop] = []
    cold: ColdWater | None = None
    filled_c = None
    for stop in _stops(changes, records):
        if cold and stops[-1].recipe and stop.at > stops[-1].at + COOLING:
            stops.append(_cooled(stops[-1], cold))
        stops.append(stop)
        if stop.temperature_c is None:
            continue
        if stop.recipe is None:
            cold = _cold(stop.at, stop.temperature_c, filled_c)
        else:
            filled_c = stop.temperature_c
            cold = cold and _cold(cold.at, cold.temperature_c, filled_c)
    if cold and stops[-1].recipe:
        stops.append(_cooled(stops[-1], cold))
    return tuple(stops), cold


def logged_c(history: TubHistory, until: datetime) -> float | None:
    """Return the bath's temperature that was logged last by a time [degrees C]; None without any.

    Of a filling and a measurement at one time the measurement counts, as in `warmth`.
    """
    stops = _stops(history.changes, history.temperatures)
    known = [stop.temperature_c for stop in stops if stop.at <= until]
    return next((celsius for celsius in reversed(known) if celsius is not None), None)


def _stops(changes: Sequence[WaterChange], records: Sequence[TemperatureRecord]) -> list[Stop]:
    """Return what went in and what was measured, in time order; at one time in this order."""
    stops = [
        *(Stop(at=one.at, recipe=one.recipe, temperature_c=one.temperature_c) for one in changes),
        *(Stop(at=one.at, recipe=None, temperature_c=one.temperature_c) for one in records),
    ]
    return sorted(stops, key=lambda stop: stop.at)


def _cooled(filling: Stop, cold: ColdWater) -> Stop:
    return Stop(at=filling.at + COOLING, recipe=None, temperature_c=cold.temperature_c)


def _cold(at: datetime, celsius: float, filled_c: float | None) -> ColdWater | None:
    """Return a measured temperature that is far below that of the filling; None for others."""
    if filled_c is None or celsius > filled_c - advice_value("stall_small_drop_c"):
        return None
    return ColdWater(at=at, temperature_c=celsius, filled_c=filled_c)
