"""Water that went in warm and was measured cold cools again after each change."""

from __future__ import annotations

from datetime import timedelta

import pytest

from greasecheck.model import Recipe
from greasecheck.predict.model.warmth import COOLING, logged_c, warmth
from greasecheck.predict.records import TemperatureRecord, TubHistory, WaterChange
from greasecheck.reference.advice import advice_value
from tests.unit.predict.tubs import START, day

COOLING_DAYS = COOLING / timedelta(days=1)


def filled(days: float, celsius: float | None = 40.0) -> WaterChange:
    return WaterChange(at=day(days), temperature_c=celsius)


def measured(days: float, celsius: float) -> TemperatureRecord:
    return TemperatureRecord(at=day(days), temperature_c=celsius)


def course(
    changes: list[WaterChange], records: list[TemperatureRecord]
) -> list[tuple[float, float | None]]:
    """Return the days of the stops, and what holds from each."""
    stops, _ = warmth(changes, records)
    return [((one.at - START) / timedelta(days=1), one.temperature_c) for one in stops]


def test_without_a_measurement_each_filling_holds() -> None:
    assert course([filled(0), filled(3, None), filled(6, 35.0)], []) == [
        (0.0, 40.0),
        (3.0, None),
        (6.0, 35.0),
    ]
    stops, cold = warmth([filled(0)], [])
    assert stops[0].recipe is Recipe.SOAP
    assert cold is None


def test_after_a_cold_measurement_later_fillings_cool_to_it() -> None:
    assert course([filled(0), filled(3), filled(6)], [measured(2, 12.0)]) == [
        (0.0, 40.0),
        (2.0, 12.0),
        (3.0, 40.0),
        (3.0 + COOLING_DAYS, 12.0),
        (6.0, 40.0),
        (6.0 + COOLING_DAYS, 12.0),
    ]


def test_a_warm_measurement_ends_it_even_soon_after_a_filling() -> None:
    changes, records = [filled(0), filled(3)], [measured(2, 12.0), measured(3.1, 38.0)]
    assert course(changes, records) == [(0.0, 40.0), (2.0, 12.0), (3.0, 40.0), (3.1, 38.0)]
    assert warmth(changes, records)[1] is None


def test_water_that_goes_in_as_cold_is_taken_as_it_went_in() -> None:
    changes = [filled(0), filled(3, 14.0), filled(6, 15.0)]
    assert course(changes, [measured(2, 12.0)])[-2:] == [(3.0, 14.0), (6.0, 15.0)]
    assert warmth(changes, [measured(2, 12.0)])[1] is None


@pytest.mark.parametrize(("above_c", "stands"), [(-0.1, True), (0.1, False)])
def test_a_little_colder_is_no_cold_water(above_c: float, stands: bool) -> None:
    celsius = 40.0 - advice_value("stall_small_drop_c") + above_c
    _, cold = warmth([filled(0)], [measured(1, celsius)])
    assert (cold is not None) is stands
    if cold is not None:
        assert (cold.at, cold.temperature_c, cold.filled_c) == (day(1), celsius, 40.0)


def test_of_what_was_logged_last_a_measurement_counts_before_the_filling() -> None:
    history = TubHistory(
        skulls=(),
        changes=(filled(0, 45.0), filled(3, None), filled(9, 50.0)),
        temperatures=(measured(0, 43.0), measured(6, 38.0)),
    )
    assert [logged_c(history, day(days)) for days in (-1, 0, 3, 6, 9)] == [
        None,
        43.0,
        43.0,
        38.0,
        50.0,
    ]
