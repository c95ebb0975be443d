"""A whole season on one phone, from the empty logbook to the look at a returned skull."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from greasecheck.logbook.records import Tub
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import enter_tub
from tests.browser import (
    PATIENCE_MS,
    axe_faults,
    covered,
    follow,
    needs_chromium,
    small_targets,
    sticks_out,
)
from tests.unit.live.phones import SAMPLES, START, AtOnce, live_settings, running

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from playwright.sync_api import Browser, Page


pytestmark = needs_chromium
PHONE = {"width": 390, "height": 844}
TUBS = range(10, 22)
SPECIES = ("fox", "mink", "badger", "roe deer")
PHOTOS = sorted(SAMPLES.glob("*.jpg"))[1:7]
MOST_TAPS = 20
# Words that belong one tap deeper, and names inside the program, which belong nowhere.
FIGURES = re.compile(r"E313|settled|/m\b|per m\b|\w_\w+|\bstd\b")


@dataclass
class Hand:
    """A thumb on a phone, which counts its taps."""

    page: Page
    address: str
    taps: int = 0
    complaints: list[str] = field(default_factory=list)

    def tap(self, what: str) -> None:
        """Tap what stays on the page: a fold, a tick."""
        self.taps += 1
        self.page.click(what)

    def follow(self, what: str) -> None:
        """Tap what sends a form or leads to another page."""
        self.taps += 1
        follow(self.page, what)

    def choose(self, name: str, value: str) -> None:
        self.page.select_option(name, value)

    def write(self, name: str, value: str) -> None:
        self.page.fill(name, value)

    def look(self) -> list[str]:
        """Return what is wrong with the page, figures' words on its first level among it."""
        page = self.page
        figures = FIGURES.findall(page.inner_text("body"))
        return [
            *figures,
            *axe_faults(page),
            *small_targets(page),
            *covered(page),
            *(["sticks out"] * sticks_out(page)),
        ]


@pytest.fixture
def hand(browser: Browser, tmp_path: Path) -> Iterator[Hand]:
    settings = live_settings(tmp_path, make_executor=AtOnce)
    Logbook(settings.logbook, create=True).close()
    with running(settings) as address:
        page = browser.new_page(viewport=PHONE)  # type: ignore[arg-type]
        page.set_default_timeout(PATIENCE_MS)
        found = Hand(page=page, address=address)
        page.on("console", lambda message: found.complaints.append(message.text))
        page.goto(address)
        yield found
        assert found.complaints == []
        page.close()


def set_up(hand: Hand) -> None:
    page = hand.page
    assert page.url.endswith("/setup")
    hand.follow("#how button")
    hand.follow("#print button")
    with page.expect_navigation():
        page.set_input_files("#stand-photo", SAMPLES / "01_tap_water.jpg")
    assert "It stands well" in page.inner_text("main")
    hand.follow("button:has-text('Go on')")
    assert hand.look() == []
    hand.write("#depth", "60")
    with page.expect_navigation():
        page.set_input_files("#clear-photo", SAMPLES / "01_tap_water.jpg")
    page.wait_for_selector("#tubs[open]")
    for place, number in enumerate(TUBS):
        hand.write("#number", str(number))
        hand.write("#tub-warm", "42")
        hand.write("#tub-skull", f"skull {number}")
        hand.choose("#tub-species", SPECIES[place % len(SPECIES)])
        hand.follow("#tubs button")
        page.wait_for_selector(f"#tubs p:has-text('{number}')")
    hand.tap("#tags summary")
    hand.follow("#tags button:has-text('They hang')")


def put_in(hand: Hand, tub: int, name: str) -> None:
    hand.page.goto(f"{hand.address}tubs/{tub}")
    hand.tap("#put-in summary")
    hand.write("#new-name", name)
    hand.follow("#put-in button")
    hand.page.wait_for_selector(".made")


def happens(hand: Hand, skull: str, words: str, *, fold: str = "", tub: str = "") -> None:
    page = hand.page
    page.goto(f"{hand.address}skull?name={skull.replace(' ', '%20')}")
    if fold and not page.query_selector(f"details[open] > summary:has-text('{fold}')"):
        hand.tap(f"summary:has-text('{fold}')")
    if tub:
        page.select_option(f"details:has(summary:has-text('{fold}')) select[name=tub]", tub)
    scope = f"details:has(> summary:has-text('{fold}')) " if fold else ""
    hand.follow(f"{scope}button:has-text('{words}')")
    page.wait_for_selector(".made")


def test_a_whole_season_by_taps_alone(hand: Hand, tmp_path: Path) -> None:
    page, book = hand.page, tmp_path / "season.logbook"
    set_up(hand)
    put_in(hand, 10, "twin 1")
    put_in(hand, 11, "twin 2")
    page.goto(hand.address)
    assert len(page.query_selector_all(".answers .answer")) == len(TUBS)
    last = page.query_selector_all(".answers .answer")[-1].bounding_box()
    assert last is not None
    assert last["y"] + last["height"] <= PHONE["height"]
    assert hand.look() == []
    page.goto(f"{hand.address}tubs/10")
    assert hand.look() == []

    happens(hand, "skull 12", "Done, taken out")
    assert hand.look() == []
    happens(hand, "skull 12", "Whitened", fold="Whitened")
    happens(hand, "skull 12", "Enter", fold="Into water again", tub="21")
    happens(hand, "skull 12", "Dried")
    happens(hand, "skull 12", "Given back")
    happens(hand, "skull 12", "Still white")
    happens(hand, "skull 13", "Enter", fold="Moved to another tub", tub="12")
    page.goto(f"{hand.address}skull?name=skull%2014")
    hand.tap("summary:has-text('Promise a day')")
    page.fill("#day", f"{datetime.now(UTC) + timedelta(days=200):%Y-%m-%d}")
    hand.follow("button:has-text('Promise')")
    page.goto(f"{hand.address}promises")
    assert "Ready by then with" in page.inner_text("main")

    page.goto(f"{hand.address}entries")
    hand.follow("a:has-text('Tub 15 with what is in it')")
    hand.follow("button:has-text('Take it back')")
    page.wait_for_selector(".made:has-text('Taken back')")

    with Logbook(book) as opened:
        kinds = opened.rows(
            "SELECT kind FROM skull_events WHERE skull = 'skull 12' ORDER BY happened_at, kind"
        )
        assert [kind for (kind,) in kinds] == [
            "entered",
            "degreased",
            "whitened",
            "resoaked",
            "dried",
            "returned",
        ]
        assert opened.rows("SELECT yellowed FROM follow_ups") == [(0,)]
        assert opened.rows("SELECT count(*) FROM skulls") == [(13,)]
        assert opened.rows("SELECT count(*) FROM standards") == [(1,)]
        assert opened.rows("SELECT count(*) FROM promises") == [(1,)]


def test_the_daily_round_takes_few_taps(hand: Hand, tmp_path: Path) -> None:
    set_up(hand)
    page, book = hand.page, tmp_path / "season.logbook"
    with Logbook(book) as opened:
        for number in TUBS:
            enter_tub(opened, Tub(number=number, started_at=START))
    page.goto(hand.address)
    hand.taps = 0
    hand.taps += 3  # "Photos"; the phone's own chooser: select all, done
    with page.expect_navigation():
        page.set_input_files("#files", PHOTOS)
    page.wait_for_selector("h1:has-text('Photos')")
    hand.follow("button:has-text('good ones')")
    page.wait_for_selector("text=Decided")
    hand.follow("nav a:has-text('Today')")
    hand.follow("a:has-text('Water changed')")
    for number in (10, 13, 15, 18, 20):
        hand.tap(f".tick:has(input[value='{number}'])")
    hand.follow("button:has-text('Enter')")
    if "Changed again" in page.inner_text("h1"):  # entered seconds ago by the set-up of this test
        follow(page, "text=Yes, enter another change")
    page.wait_for_selector(".made:has-text('Water change of tub 10, 13, 15, 18, 20')")
    assert page.url.startswith(f"{hand.address}?entry=")
    assert hand.look() == [], "the last entry with its undo leaves the buttons free"
    assert hand.taps <= MOST_TAPS


def test_it_works_at_twice_the_size_of_letters(browser: Browser, tmp_path: Path) -> None:
    settings = live_settings(tmp_path, make_executor=AtOnce)
    Logbook(settings.logbook, create=True).close()
    with running(settings) as address:
        page = browser.new_page(viewport=PHONE)  # type: ignore[arg-type]
        page.set_default_timeout(PATIENCE_MS)
        hand = Hand(page=page, address=address)
        page.goto(address)
        set_up(hand)
        for name in ("", "tubs/10", "changes", "skull?name=skull%2010", "setup", "more"):
            page.goto(f"{address}{name}")
            page.evaluate("document.documentElement.style.fontSize = '200%'")
            assert not sticks_out(page), name
        page.close()
