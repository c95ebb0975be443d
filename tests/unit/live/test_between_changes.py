"""What the page enters between water changes, and its way back."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.unit.live.phones import Phone


def test_a_temperature_is_entered_seen_and_taken_back(phone: Phone) -> None:
    answer = phone.post("/tubs/12/temperature", {"temperature": "38,5"})
    assert answer.location == "/tubs/12?entry=5"
    page = phone.get(str(answer.location)).text
    assert "Temperature of tub 12" in page
    assert ">Undo<" in page
    assert "Tub 12: at 38.5 °C" in phone.get("/entries/5").text
    assert phone.rows("SELECT tub, temperature_c FROM temperatures") == [(12, 38.5)]
    phone.post("/entries/5/undo", {"back": "/tubs/12?entry=5"})
    assert phone.count("temperatures") == 0


def test_topping_up_needs_the_litres_of_the_tub(phone: Phone) -> None:
    phone.post("/tubs/12/facts", {"litres": "60"})
    answer = phone.post("/tubs/12/topped-up", {"litres": "3"})
    number = str(answer.location).rpartition("=")[2]
    assert "topped up with 3 L" in phone.get(f"/entries/{number}").text
    assert phone.post("/tubs/12/topped-up", {"litres": "75"}).status_code == 409
    assert phone.rows("SELECT tub, litres FROM top_ups") == [(12, 3.0)]
    phone.post(f"/entries/{number}/undo")
    assert phone.count("top_ups") == 0


def test_a_reading_before_the_tubs_first_day_is_pointed_out(phone: Phone) -> None:
    fields = {"haze": "4", "std": "1", "when": "at", "at": "2020-03-05T18:00"}
    made = str(phone.post("/tubs/12/reading", fields).location)
    slip = "The reading of tub 12 is of 5 Mar 2020, 18:00, before the tub&#39;s first day, "
    assert slip in phone.get(made).text
    phone.post(f"/entries/{made.rpartition('=')[2]}/undo")
    assert slip not in phone.get(made).text


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="the zone cannot be set there")
def test_an_hour_that_clocks_showed_twice_is_pointed_out(
    phone: Phone, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3")  # Central European rules, POSIX form
    time.tzset()
    try:
        fields = {"haze": "4", "std": "1", "when": "at"}
        told = "Clocks showed 26 Oct 2025, 02:30 twice, and the first is taken."
        for at, is_told in (("2025-10-26T02:30", True), ("2025-10-26T03:30", False)):
            made = str(phone.post("/tubs/12/reading", {**fields, "at": at}).location)
            assert (told in phone.get(made).text) == is_told
    finally:
        monkeypatch.undo()
        time.tzset()


@pytest.mark.parametrize("fields", [{}, {"temperature": "hot"}, {"temperature": "104"}])
def test_no_temperature_is_refused(phone: Phone, fields: dict[str, str]) -> None:
    assert phone.post("/tubs/12/temperature", fields).status_code == 400
    assert phone.count("temperatures") == 0


def test_the_condition_of_a_skull_is_entered_and_shown(phone: Phone) -> None:
    [(name,)] = phone.rows("SELECT name FROM skulls")
    answer = phone.post("/skulls", {"name": name, "condition": "fat"})
    assert answer.status_code == 303
    assert phone.rows("SELECT condition FROM skulls") == [("fat",)]
    assert ", fat" in phone.get(f"/skull?name={name}").text
    assert phone.post("/skulls", {"name": name, "condition": "stout"}).status_code == 400
