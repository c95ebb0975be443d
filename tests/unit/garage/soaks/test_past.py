from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta

import pytest

from greasecheck.garage.soaks.past import as_of, past_soaks
from greasecheck.logbook.readings.readings import enter_by_hand
from greasecheck.logbook.records import BathTemperature, HandReading, ToppedUp, Tub
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub
from greasecheck.logbook.water.between import enter_temperature, enter_top_up
from greasecheck.model import Recipe
from greasecheck.stages import EventKind
from tests.skull_log import happen, put_in

START = datetime(2025, 3, 1, 18, tzinfo=UTC)


def day(number: float) -> datetime:
    return START + timedelta(days=number)


@pytest.fixture
def book(book: Logbook) -> Logbook:
    """Two skulls that overlap in a tub, then one more; water every 5 days, haze in between."""
    for tub in (12, 13):
        enter_tub(book, Tub(number=tub))
    for at in range(0, 40, 5):
        change_water(book, [12], day(at), Filling(recipe=Recipe.SOAP))
        reading = HandReading(
            tub=12, taken_at=day(at + 2), attenuation_per_m=9.0, attenuation_std_per_m=0.3
        )
        enter_by_hand(book, reading)
    for name, tub, since, until in (
        ("buck", 12, 1, 11),
        ("doe", 12, 8, 16),
        ("fawn", 12, 21, None),
        ("dry", 13, 1, None),
    ):
        put_in(book, name, day(since), tub)
        if until is not None:
            happen(book, name, EventKind.DEGREASED, day(until))
    return book


def test_a_span_holds_its_own_water_and_readings(book: Logbook) -> None:
    told = [
        (
            [soak.skull for soak in span.soaks],
            span.until,
            [change.at for change in span.history.changes],
            [reading.at for reading in span.history.readings],
        )
        for span in past_soaks(book, day(28))
    ]
    assert told == [
        (["buck", "doe"], day(16), [day(at) for at in (0, 5, 10, 15)], [day(2), day(7), day(12)]),
        (["fawn"], day(28), [day(20), day(25)], [day(22), day(27)]),
    ]


def test_a_skull_that_left_gives_no_grease_any_more(book: Logbook) -> None:
    """It is in the tub as long as it soaked; at its own end it is still there to be asked about."""
    first, _ = past_soaks(book, day(28))
    left = [
        [(skull.name, skull.until) for skull in as_of(first, day(end)).history.skulls]
        for end in (16, 11)
    ]
    assert left == [[("buck", day(11)), ("doe", None)], [("buck", None), ("doe", None)]]


def test_what_has_not_begun_is_no_soak(book: Logbook) -> None:
    (span,) = past_soaks(book, day(9))
    assert ([soak.skull for soak in span.soaks], span.until) == (["buck", "doe"], day(9))
    assert past_soaks(book, day(0)) == ()


def test_one_that_goes_in_as_another_comes_out_begins_a_span(book: Logbook) -> None:
    put_in(book, "elk", day(16), 12)
    told = [[soak.skull for soak in span.soaks] for span in past_soaks(book, day(20))]
    assert told == [["buck", "doe"], ["elk"]]


def test_of_an_earlier_time_nothing_later_is_known(book: Logbook) -> None:
    enter_tub(book, Tub(number=12, volume_l=50.0))
    for at in (3, 9):
        enter_temperature(book, BathTemperature(tub=12, at=day(at), temperature_c=38.0))
        enter_top_up(book, ToppedUp(tub=12, at=day(at), litres=5.0))
    first, _ = past_soaks(book, day(28))
    early = as_of(first, day(8)).history
    parts = (early.changes, early.readings, early.temperatures, early.top_ups)
    assert [[one.at for one in part] for part in parts] == [
        [day(0), day(5)],
        [day(2), day(7)],
        [day(3)],
        [day(3)],
    ]
    assert as_of(first, day(8)).until == day(8)


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="the zone cannot be set there")
@pytest.mark.parametrize(("zone", "named"), [("UTC", "2025-03-02"), ("Asia/Tokyo", "2025-03-03")])
def test_a_span_is_named_by_the_local_day_it_began(
    book: Logbook, monkeypatch: pytest.MonkeyPatch, zone: str, named: str
) -> None:
    first, *_ = past_soaks(book, day(28))  # since 18:00 UTC on 2 March
    try:
        monkeypatch.setenv("TZ", zone)
        time.tzset()
        assert first.name == f"tub 12 from {named}"
    finally:
        monkeypatch.undo()
        time.tzset()
