"""Rules that hold between the columns of an imported row."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.logbook.readings.readings import fault_of, hand_key, kind_of
from greasecheck.logbook.skulls.stays import INTO_A_TUB
from greasecheck.logbook.store.tables import (
    BATHS,
    CORRECTIONS,
    DENIALS,
    FOLLOW_UPS,
    READINGS,
    SKULL_EVENTS,
    TEMPERATURES,
    TOP_UPS,
)
from greasecheck.logbook.store.times import EARLIEST
from greasecheck.logbook.water.baths import ACETONE_BOILS_C, boils

if TYPE_CHECKING:
    from greasecheck.logbook.store.columns import Value
    from greasecheck.logbook.store.table import Table

# The column that may lie neither in the future nor before any logbook; what must follow what.
PAST = {
    BATHS.name: "filled_at",
    READINGS.name: "taken_at",
    SKULL_EVENTS.name: "happened_at",
    FOLLOW_UPS.name: "seen_at",
    TEMPERATURES.name: "at",
    TOP_UPS.name: "at",
}
SPANS = {BATHS.name: ("filled_at", "dumped_at"), DENIALS.name: ("earliest", "latest")}


def completed(table: Table, values: dict[str, Value]) -> dict[str, Value]:
    """Return the row's named values, with the key and kind that a reading's line left out."""
    if table is not READINGS:
        return values
    key = values["key"] or hand_key(values["tub"], values["taken_at"])
    kind = values["kind"] or kind_of(values["attenuation_per_m"])
    return {**values, "key": key, "kind": kind}


def _fault_of_bath(values: dict[str, Value]) -> str | None:
    hot = boils(values["recipe"], values["temperature_c"])
    return f"acetone boils at {ACETONE_BOILS_C:.0f} degrees C" if hot else None


FAULTS = {READINGS.name: fault_of, BATHS.name: _fault_of_bath}


def problem_of(table: Table, values: dict[str, Value], now: str) -> str | None:
    """Return the rule that a row of `table` breaks at the time `now`; None when it breaks none."""
    past = PAST.get(table.name)
    if past and not EARLIEST <= str(values[past]) <= now:
        late = str(values[past]) > now
        return f"{past} lies in the future" if late else f"{past} is too long ago: check its year"
    if table.name in SPANS:
        first, last = SPANS[table.name]
        if values[last] is not None and str(values[last]) <= str(values[first]):
            return f"{last} is not after {first}"
    if table.name in FAULTS:
        return FAULTS[table.name](values)
    if table is SKULL_EVENTS and values["kind"] in INTO_A_TUB and values["tub"] is None:
        return f"a skull that was {values['kind']} needs the tub it went into"
    if table is CORRECTIONS and values["field"] not in READINGS.names:
        return f"readings have no column {values['field']}"
    return None
