"""A logbook looked at as of an earlier time shows what one shows that holds no more."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import pytest

from greasecheck.logbook.changes import deny_change
from greasecheck.logbook.readings.readings import enter_by_hand
from greasecheck.logbook.records import (
    BathTemperature,
    FollowUp,
    HandReading,
    ProbableChange,
    Promise,
    Skull,
    SkullEvent,
    ToppedUp,
    Tub,
)
from greasecheck.logbook.skulls.promises import enter_promise
from greasecheck.logbook.skulls.skulls import enter_event, enter_follow_up, enter_skull
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.columns import Kind
from greasecheck.logbook.store.tables import TABLES
from greasecheck.logbook.water.baths import Filling, change_water, dump_water, enter_tub
from greasecheck.logbook.water.between import enter_temperature, enter_top_up
from greasecheck.model import Recipe
from greasecheck.stages import EventKind
from tests.logbook_samples import day

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

SOAP = Filling(recipe=Recipe.SOAP)
THEN = day(5)


def begin(book: Logbook) -> None:
    """Enter what happened by `THEN`."""
    enter_tub(book, Tub(number=1, name="by the door", volume_l=60.0))
    change_water(book, [1], day(0), SOAP)
    first = SkullEvent(skull="fox", happened_at=day(0), kind=EventKind.ENTERED, tub=1)
    enter_skull(book, Skull(name="fox", species="fox"), first)
    enter_by_hand(
        book, HandReading(tub=1, taken_at=day(2), attenuation_per_m=9.0, attenuation_std_per_m=1.0)
    )
    enter_temperature(book, BathTemperature(tub=1, at=day(3), temperature_c=38.0))
    enter_top_up(book, ToppedUp(tub=1, at=THEN, litres=4.0))


def go_on(book: Logbook) -> None:
    """Enter what happened after `THEN`."""
    enter_tub(book, Tub(number=1, checked_at=day(6)))
    enter_by_hand(
        book, HandReading(tub=1, taken_at=day(6), attenuation_per_m=2.0, attenuation_std_per_m=1.0)
    )
    deny_change(
        book,
        ProbableChange(tub=1, earliest=day(2), latest=day(6), before_per_m=9.0, after_per_m=2.0),
    )
    enter_temperature(book, BathTemperature(tub=1, at=day(7), temperature_c=20.0))
    enter_top_up(book, ToppedUp(tub=1, at=day(7), litres=2.0))
    enter_promise(book, Promise(skull="fox", promised_at=day(7), ready_by=day(90), probability=0.5))
    out = SkullEvent(skull="fox", happened_at=day(8), kind=EventKind.DEGREASED)
    enter_event(book, out)
    enter_follow_up(book, FollowUp(skull="fox", seen_at=day(40), yellowed=True))
    change_water(book, [1], day(9), SOAP)
    dump_water(book, [1], day(10))


def content(book: Logbook) -> Mapping[str, object]:
    return {
        table.name: book.rows(f"SELECT {', '.join(table.names)} FROM {table.name}")
        for table in TABLES
    }


def test_the_past_is_what_a_logbook_without_the_rest_holds(tmp_path: Path) -> None:
    long, short = tmp_path / "long.logbook", tmp_path / "short.logbook"
    with Logbook(long, create=True) as whole, Logbook(short, create=True) as before:
        for book in (whole, before):
            begin(book)
        go_on(whole)
        assert content(whole) != content(before)
        with Logbook(long, as_of=THEN) as past:
            assert content(past) == content(before)
        change_water(before, [1], day(9), SOAP)
        dump_water(before, [1], day(10))
        with Logbook(short, as_of=day(9)) as past:
            assert past.rows("SELECT dumped_at FROM baths ORDER BY filled_at") == [(None,), (None,)]


def test_a_locked_logbook_shows_its_past(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "season.logbook"
    with Logbook(path, create=True) as book:
        begin(book)
    monkeypatch.setattr(os, "access", lambda *_: False)
    with Logbook(path, as_of=day(1)) as past:
        assert past.rows("SELECT count(*) FROM readings") == [(0,)]
        assert past.rows("SELECT count(*) FROM baths") == [(1,)]


def test_nothing_is_entered_into_the_past(tmp_path: Path) -> None:
    path = tmp_path / "season.logbook"
    with Logbook(path, create=True) as book:
        begin(book)
    with Logbook(path, as_of=THEN) as past, pytest.raises(AssertionError):
        enter_tub(past, Tub(number=2))


def test_every_time_of_a_table_is_hidden_or_known_to_hold_at_any_time() -> None:
    held = {("tubs", "started_at"), ("corrections", "made_at"), ("promises", "ready_by")}
    for table in TABLES:
        for column in table.columns:
            if column.kind is Kind.TIME and (table.name, column.name) not in held:
                hidden = f"{table.happened} {table.blank_until}"
                assert column.name in hidden or table.name == "denials", (table.name, column.name)
