"""Pages offer the next step first, and nothing that is not there."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from flask import g, render_template_string

from greasecheck.answers import Finding, Task
from greasecheck.garage.soaks.refresh import refresh_answers
from greasecheck.live.setup.steps import setup_steps
from greasecheck.logbook.readings.photos import LogSettings, log_photos
from greasecheck.logbook.records import BathTemperature
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.story import MOST_DAILY
from greasecheck.logbook.water.baths import Filling, change_water
from greasecheck.logbook.water.between import enter_temperature
from greasecheck.stages import EventKind
from tests import skull_log
from tests.logbook_samples import measure_files, write_photos

if TYPE_CHECKING:
    from pathlib import Path

    from tests.unit.live.phones import Phone

NOW = datetime.now(UTC)


def happen(phone: Phone, skull: str, *kinds: EventKind) -> None:
    with Logbook(phone.settings.logbook) as book:
        for place, kind in enumerate(kinds):
            at = NOW - timedelta(hours=len(kinds) - place)
            tub = 14 if kind is EventKind.RESOAKED else None
            skull_log.happen(book, skull, kind, at, tub)


def order(page: str, *words: str) -> bool:
    places = [page.index(word) for word in words]
    return places == sorted(places)


def test_what_is_due_stands_first_and_what_is_finished_is_folded(phone: Phone) -> None:
    with Logbook(phone.settings.logbook) as book:
        for name in ("otter 9", "stoat 9"):
            skull_log.put_in(book, name, NOW - timedelta(days=4), 12)
    happen(phone, "fox 3", EventKind.DEGREASED)
    happen(phone, "stoat 9", EventKind.DEGREASED, EventKind.WHITENED, EventKind.RETURNED)
    phone.post("/skull/looked", {"skull": "stoat 9", "seen": "white"})
    page = phone.get("/skulls").text
    assert order(page, "fox 3", "otter 9", "Finished: 1", "stoat 9")
    assert order(page, "ready by", "whiten it", "tub 12", "soaks")


@pytest.mark.parametrize(
    ("kinds", "first", "folded"),
    [
        ((), "Done, taken out", "Given back"),
        ((EventKind.DEGREASED,), "<details open><summary>Whitened", "Dried"),
        (
            (EventKind.DEGREASED, EventKind.WHITENED),
            "<details open><summary>Into water again",
            "Still white",
        ),
        (
            (EventKind.DEGREASED, EventKind.WHITENED, EventKind.RESOAKED),
            "<button>Dried",
            "Still white",
        ),
        ((EventKind.DEGREASED, EventKind.DRIED), "<button>Given back", "Still white"),
    ],
)
def test_a_skull_offers_its_next_step_first(
    phone: Phone, kinds: tuple[EventKind, ...], first: str, folded: str
) -> None:
    happen(phone, "fox 3", *kinds)
    page = phone.get("/skull?name=fox%203").text
    assert order(page, 'id="more"', first, "Something else happened", folded)


def test_of_a_skull_that_is_back_it_asks_how_it_looks(phone: Phone) -> None:
    happen(phone, "fox 3", EventKind.DEGREASED, EventKind.RETURNED)
    page = phone.get("/skull?name=fox%203").text
    assert order(page, "did it yellow?</p>", 'id="more"', "Still white", "Into water again")
    assert "Something else happened" not in page
    assert "<details open>" not in page


@pytest.mark.parametrize(
    ("finding", "button"),
    [
        (Finding.TAKE_OUT, "fox 3 is out"),
        (Finding.LOOK_AT_TUB, "Looked: all is well"),
        (Finding.PHOTOGRAPH_BONE, "Take a photo"),
        (Finding.DILUTE, "Take a photo"),
        (Finding.CHANGE_WATER, ""),
    ],
)
def test_the_answer_of_a_tub_has_its_button(phone: Phone, finding: Finding, button: str) -> None:
    macro = (
        '{% import "parts.html.j2" as parts with context %}{{ parts.first_button(t, "k", "/") }}'
    )
    with phone.app.test_request_context():
        g.nonce = ""
        shown = render_template_string(macro, t=Task(finding=finding, tub=12, skull="fox 3"))
    assert re.sub("<[^>]*>", "", shown).replace("Read it", "").strip() == button


def test_a_photo_that_was_logged_elsewhere_is_not_shown(phone: Phone, tmp_path: Path) -> None:
    paths = write_photos(tmp_path / "elsewhere", 1)
    with Logbook(phone.settings.logbook) as book:
        list(log_photos(book, paths, measure_files, LogSettings()))
        [(tub,)] = book.rows("SELECT tub FROM readings")
    page = phone.get(f"/tubs/{tub}").text
    assert "The newest photo" not in page


def test_the_story_of_a_long_soak_leaves_most_changes_out(phone: Phone) -> None:
    with Logbook(phone.settings.logbook) as book:
        for hours in range(MOST_DAILY + 3):
            change_water(book, [12], NOW - timedelta(hours=hours + 1), Filling())
    page = phone.get("/skull?name=fox%203").text
    assert page.count("water changed: soap") == MOST_DAILY
    assert "4 earlier water changes and readings are left out" in page


def test_ladders_are_printed_from_the_setup(phone: Phone) -> None:
    phone.post("/setup/choice", {"measured_by": "ladder", "paper": "a4"})
    page = phone.get("/setup").text
    assert "Ladders to print" in page
    assert "Tags to print" not in page
    with Logbook(phone.settings.logbook) as book:
        assert setup_steps(book).done["tags"], "a ladder bears the tag of its tub"
    answer = phone.get("/setup/ladders.pdf?tubs=12%2014&paper=a4")
    assert answer.mimetype == "application/pdf"
    assert answer.data.startswith(b"%PDF")
    assert phone.get("/setup/ladders.pdf?tubs=").status_code == 400


def test_a_page_that_is_not_there_is_not_shown_and_an_entry_not_done(phone: Phone) -> None:
    assert "<h1>Not shown</h1>" in phone.get("/tubs/99").text
    assert "<h1>Not done</h1>" in phone.post("/tubs/99/changed", {"recipe": "soap"}).text


def test_tubs_in_a_row_are_named_by_their_ends_and_their_tags_printed_so(phone: Phone) -> None:
    for number in ("13", "20"):
        phone.post("/tubs", {"number": number})
    page = phone.get("/setup").text
    assert "Entered: tub 12-14, 20." in page
    assert 'id="tags" name="tubs" autocomplete="off" value="12-14, 20"' in page
    printed = phone.get("/setup/tags.pdf?tubs=12-14,+20&paper=a4")
    assert printed.data.startswith(b"%PDF")


def test_a_tub_of_the_setup_comes_in_whole_or_not_at_all(phone: Phone) -> None:
    tub = {"number": "77", "recipe": "soap", "skull": "boar 7", "species": "wild boar"}
    before = {table: phone.count(table) for table in ("tubs", "baths", "skulls", "entries")}
    refused = phone.post("/setup/tub", {**tub, "when": "at", "at": "2999-01-01T12:00"})
    assert refused.status_code == 409
    assert {table: phone.count(table) for table in before} == before
    assert phone.post("/setup/tub", tub).status_code == 303
    assert {table: phone.count(table) - 1 for table in before} == before


def test_a_tub_of_the_setup_with_a_known_skull_leaves_nothing(phone: Phone) -> None:
    tub = {"number": "77", "recipe": "soap", "skull": "boar 7"}
    assert phone.post("/setup/tub", tub).status_code == 303
    assert phone.post("/setup/tub", {**tub, "number": "78"}).status_code == 409
    assert phone.rows("SELECT number FROM tubs WHERE number = 78") == []
    assert phone.rows("SELECT tub FROM baths WHERE tub = 78") == []
    [(entry,)] = phone.rows("SELECT max(id) FROM entries")
    assert phone.post(f"/entries/{entry}/undo").status_code == 303
    assert phone.rows("SELECT number FROM tubs WHERE number = 77") == []


def test_a_skulls_page_tells_when_it_is_degreased_or_why_not(phone: Phone) -> None:
    page = "/skull?name=fox+3"
    assert "No date yet: its tub is being worked out." in phone.get(page).text
    with Logbook(phone.settings.logbook) as book:
        list(refresh_answers(book, [12], NOW))
    assert re.search("Degreased by .* with 1 in 2, by .* with 9 in 10", phone.get(page).text)
    with Logbook(phone.settings.logbook) as book:
        cold = BathTemperature(tub=12, at=NOW - timedelta(minutes=1), temperature_c=12.0)
        enter_temperature(book, cold)
        list(refresh_answers(book, [12], NOW))
    told = phone.get(page).text
    assert "No date: " in told
    assert "Degreased by" not in told
