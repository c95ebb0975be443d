"""A water change by one tap, its way back, and the changes that the haze betrays."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from greasecheck.live.access import forms
from greasecheck.logbook.readings.readings import enter_by_hand
from greasecheck.logbook.records import HandReading
from greasecheck.logbook.store.book import Logbook
from tests.unit.live.phones import OWN

if TYPE_CHECKING:
    from werkzeug.test import TestResponse

    from tests.unit.live.phones import Phone

CHANGED = "/tubs/12/changed"


def baths(phone: Phone) -> list[tuple[object, ...]]:
    return phone.rows("SELECT tub, recipe, temperature_c FROM baths ORDER BY tub, filled_at")


def test_one_tap_enters_what_the_last_bath_had(phone: Phone) -> None:
    answer = phone.post(CHANGED)
    assert answer.status_code == 303
    assert answer.location == "/tubs/12?entry=5"
    page = phone.get(str(answer.location)).text
    assert "Water change of tub 12" in page
    assert ">Undo<" in page
    assert "soap at 40 °C" in phone.get("/entries/5").text
    assert baths(phone) == [(12, "soap", 40.0)] * 2


def test_the_way_back_takes_back_precisely_that_entry(phone: Phone) -> None:
    phone.post(CHANGED)
    answer = phone.post("/entries/5/undo", {"back": "/tubs/12?entry=5"})
    assert answer.location == "/tubs/12?entry=5"
    page = phone.get(str(answer.location)).text
    assert "Taken back: water change" in page
    assert ">Undo<" not in page
    assert "Take it back" not in phone.get("/entries/5").text
    assert len(baths(phone)) == 1
    assert phone.count("skulls") == 1


def test_taking_back_twice_takes_back_once(phone: Phone) -> None:
    phone.post(CHANGED)
    token = phone.token()
    for _ in range(2):
        assert phone.post("/entries/5/undo", token=token).status_code == 303
    answer = phone.post("/entries/5/undo")
    assert answer.status_code == 409
    assert "that stands" in answer.text
    assert phone.count("skulls") == 1


def test_an_older_entry_is_taken_back_by_itself(phone: Phone) -> None:
    phone.post(CHANGED)
    assert "rests on this one" not in phone.get("/entries/4").text
    assert phone.post("/entries/4/undo").status_code == 303
    assert phone.count("skulls") == 0
    assert len(baths(phone)) == 2


def test_what_others_rest_on_is_asked_about(phone: Phone) -> None:
    phone.post(CHANGED)
    phone.post("/tubs/12/checked")
    answer = phone.post("/entries/1/undo")
    assert answer.location == "/entries/1"
    assert len(baths(phone)) == 2
    page = phone.get("/entries/1").text
    assert "4 later entries rest on this one" in page
    [agreed] = re.findall(r'name="agreed" value="([^"]+)"', page)
    assert agreed == "6 5 4 3 1"
    assert phone.post("/entries/1/undo", {"agreed": "5 4 3 1"}).status_code == 409
    assert phone.post("/entries/1/undo", {"agreed": agreed}).status_code == 303
    assert baths(phone) == []
    assert phone.rows("SELECT number FROM tubs") == [(14,)]


def test_the_same_form_twice_is_one_change(phone: Phone) -> None:
    token = phone.token()
    for _ in range(2):
        assert phone.post(CHANGED, token=token).location == "/tubs/12?entry=5"
    assert len(baths(phone)) == 2


def test_the_answers_of_old_forms_are_forgotten(
    phone: Phone, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(forms, "MOST_REMEMBERED", 1)
    token = phone.token()
    phone.post(CHANGED, token=token)
    phone.post("/tubs/14/changed", {"recipe": "soap"}, token=token)
    assert "Changed again?" in phone.post(CHANGED, token=token).text


def test_another_change_so_soon_is_asked_about(phone: Phone) -> None:
    phone.post(CHANGED)
    asked = phone.post(CHANGED, {"recipe": "water", "temperature": "20"})
    assert asked.status_code == 200
    assert "Changed again?" in asked.text
    assert len(baths(phone)) == 2
    fields = dict(re.findall(r'name="(\w+)" value="([^"]*)"', asked.text))
    assert fields["recipe"] == "water"
    assert fields["sure"] == "yes"
    entered = datetime.now(UTC).replace(microsecond=0)
    while datetime.now(UTC).replace(microsecond=0) == entered:
        pass  # the logbook keeps one bath a second
    token = fields.pop("form_token")
    assert phone.post(CHANGED, fields, token=token).status_code == 303
    assert baths(phone)[-1] == (12, "water", 20.0)


def test_another_recipe_shows_its_cautions_the_first_time(phone: Phone) -> None:
    answer = phone.post(CHANGED, {"recipe": "ammonia", "temperature": "20,5", "left": "10"})
    page = phone.get(str(answer.location)).text
    assert "bleach" in page
    assert "10% of the old water left" in phone.get("/entries/5").text
    assert baths(phone)[-1] == (12, "ammonia", 20.5)
    phone.post("/tubs/14/changed", {"recipe": "ammonia"})
    assert "bleach" not in phone.get("/tubs/14?entry=6").text


def test_a_tub_without_bath_asks_what_goes_in(phone: Phone) -> None:
    page = phone.get("/tubs/14").text
    assert "Fill it" in page
    answer = phone.post("/tubs/14/changed")
    assert answer.status_code == 409
    assert "no earlier bath" in answer.text
    phone.post("/tubs/14/changed", {"recipe": "soap"})
    assert baths(phone)[-1] == (14, "soap", None)


def test_after_a_mistake_there_is_a_way_back_to_the_form(phone: Phone) -> None:
    def answer(referrer: str) -> str:
        headers = {**OWN, "Referer": referrer}
        data = {"form_token": phone.token(), "left": "x"}
        return phone.client.post(CHANGED, data=data, headers=headers).text

    assert '<a class="button primary" href="/photos/abc">Back</a>' in answer(
        "http://localhost/photos/abc"
    )
    for elsewhere in ("http://evil.example/x", "javascript:alert(1)", "//localhost.evil/", ""):
        assert ">Back</a>" not in answer(elsewhere)


@pytest.mark.parametrize(
    ("field", "value"),
    [("recipe", "lye"), ("temperature", "hot"), ("temperature", "999"), ("left", "101")],
)
def test_nonsense_changes_nothing(phone: Phone, field: str, value: str) -> None:
    answer = phone.post(CHANGED, {field: value})
    assert answer.status_code == 400
    assert len(baths(phone)) == 1


def test_an_unknown_tub_is_said(phone: Phone) -> None:
    answer = phone.post("/tubs/99/changed", {"recipe": "soap"})
    assert answer.status_code == 409
    assert "is not in the logbook" in answer.text
    assert phone.get("/entries/99").status_code == 400


@pytest.mark.parametrize("number", ["-1", "9" * 30, "1e3", "12;drop", "9007199254740992"])
def test_odd_numbers_are_no_pages(phone: Phone, number: str) -> None:
    assert phone.get(f"/entries/{number}").status_code in {400, 404}
    answer = phone.post(f"/tubs/{number}/changed", {"recipe": "soap"})
    assert answer.status_code in {404, 409}
    assert phone.count("entries") == 4


def betray_a_change(phone: Phone) -> None:
    """Enter two readings of tub 12 between which the haze falls."""
    now = datetime.now(UTC)
    with Logbook(phone.settings.logbook) as book:
        for days, haze in ((2, 30.0), (1, 3.0)):
            enter_by_hand(
                book,
                HandReading(
                    tub=12,
                    taken_at=now - timedelta(days=days),
                    attenuation_per_m=haze,
                    attenuation_std_per_m=0.3,
                    bone_yi_e313=30.0,
                    bone_yi_std=0.6,
                ),
            )


def settle(phone: Phone, changed: str, latest: str) -> TestResponse:
    return phone.post("/tubs/12/probable", {"changed": changed, "latest": latest})


def test_a_probable_change_is_confirmed(phone: Phone) -> None:
    betray_a_change(phone)
    assert "changed? yes or no" in phone.get("/").text
    page = phone.get("/tubs/12").text
    assert "Was the water of tub 12 changed?" in page
    assert page.count("from 30 to 3 /m by") == 1
    [latest] = re.findall(r'name="latest" value="([^"]+)"', page)
    answer = settle(phone, "yes", latest)
    assert "Water change of tub 12" in phone.get(str(answer.location)).text
    assert len(baths(phone)) == 2
    assert "Was the water of tub 12 (by the door) changed?" not in phone.get("/tubs/12").text
    assert settle(phone, "yes", latest).status_code == 409


def test_changes_that_nobody_entered_are_asked_about_in_one_list(phone: Phone) -> None:
    betray_a_change(phone)
    with Logbook(phone.settings.logbook) as book:
        for hours, haze in ((12, 28.0), (4, 2.5)):
            enter_by_hand(
                book,
                HandReading(
                    tub=12,
                    taken_at=datetime.now(UTC) - timedelta(hours=hours),
                    attenuation_per_m=haze,
                    attenuation_std_per_m=0.3,
                ),
            )
    page = phone.get("/tubs/12").text
    asked = re.findall(
        r"<strong>Was its water changed [^?]*\?</strong> Its haze fell from ([^,]*),", page
    )
    assert asked == ["30 to 3 /m", "28 to 2 /m"]
    oldest, newest = re.findall(r'name="latest" value="([^"]+)"', page)
    assert settle(phone, "no", oldest).status_code == 303
    page = phone.get("/tubs/12").text
    assert re.findall(r'name="latest" value="([^"]+)"', page) == [newest]
    assert "Its haze fell from 28 to 2 /m by" in page


def test_a_probable_change_is_denied_and_the_denial_taken_back(phone: Phone) -> None:
    betray_a_change(phone)
    [latest] = re.findall(r'name="latest" value="([^"]+)"', phone.get("/tubs/12").text)
    answer = settle(phone, "no", latest)
    assert "No water change of tub 12" in phone.get(str(answer.location)).text
    assert len(baths(phone)) == 1
    assert phone.count("denials") == 1
    phone.post(f"/entries/{str(answer.location).partition('=')[2]}/undo")
    assert phone.count("denials") == 0


def test_the_entries_stand_in_a_list_the_newest_first(phone: Phone) -> None:
    phone.post(CHANGED)
    page = phone.get("/entries").text
    assert page.index("Water change of tub 12") < page.index("Skull fox 3") < page.index("Tub 14")
    assert "Skull fox 3" not in phone.get("/entries?before=4").text


def test_several_tubs_are_changed_at_once(phone: Phone) -> None:
    phone.post("/tubs/14/changed", {"recipe": "soap", "when": "yesterday"})
    page = phone.get("/changes").text
    assert page.count('type="checkbox"') == 2
    answer = phone.post("/changes", {"tub": ["12", "14"], "when": "now"})
    assert answer.location == "/?entry=6"
    assert "Water change of tub 12, 14" in phone.get("/?entry=6").text
    assert [tub for tub, *_ in baths(phone)] == [12, 12, 14, 14]
    assert phone.post("/changes").status_code == 409


@pytest.mark.parametrize("back", ["//evil.example/x", "http://evil.example/", "javascript:1", "x"])
def test_a_form_leads_back_to_no_other_host(phone: Phone, back: str) -> None:
    assert phone.post(CHANGED, {"back": back}).location == "/tubs/12?entry=5"


def test_a_change_is_corrected_by_itself(phone: Phone) -> None:
    phone.post(CHANGED)
    phone.post("/tubs/14/changed", {"recipe": "water"})
    page = phone.get("/entries/5").text
    [near] = re.findall(r'name="near" value="([^"]+)"', page)
    fields = {"near": near, "when": "same", "temperature": "38"}
    assert phone.post("/tubs/12/bath", fields).status_code == 303
    assert baths(phone)[1] == (12, "soap", 38.0)
    assert baths(phone)[2] == (14, "water", None)


def test_another_reading_from_the_same_page_is_entered_too(phone: Phone) -> None:
    token = phone.token("/tubs/12")
    for haze, when in (("12.3", "now"), ("13.2", "yesterday"), ("13.2", "yesterday")):
        phone.post("/tubs/12/reading", {"haze": haze, "std": "1", "when": when}, token=token)
    assert phone.rows("SELECT attenuation_per_m FROM readings ORDER BY 1") == [(12.3,), (13.2,)]


def test_a_new_skull_leads_to_its_page(phone: Phone) -> None:
    answer = phone.post("/skulls", {"name": "vixen & 4?", "species": "fox", "tub": "12"})
    page = phone.get(str(answer.location))
    assert page.status_code == 200
    assert "vixen &amp; 4?" in page.text
    assert "Undo" in page.text


def test_acetone_is_not_as_warm_as_the_water_before_it(phone: Phone) -> None:
    assert "Acetone: never warm it" in phone.get("/tubs/12").text
    phone.post(CHANGED, {"recipe": "acetone"})
    assert baths(phone) == [(12, "soap", 40.0), (12, "acetone", None)]
