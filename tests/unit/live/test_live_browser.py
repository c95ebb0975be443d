"""Uses the live page in a real browser, on a phone and on a desk, against the real server."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from greasecheck.live.access.pairing import Pairing
from greasecheck.live.tubs.weighing import one_worker
from greasecheck.logbook.store.book import Logbook
from tests.browser import (
    PATIENCE_MS,
    SCHEMES,
    WIDTHS,
    axe_faults,
    covered,
    follow,
    needs_chromium,
    opened,
    small_targets,
    sticks_out,
)
from tests.unit.live.phones import (
    NASTY,
    REFUSED,
    TUB12,
    begin_season,
    live_settings,
    running,
    without_exif,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, FilePayload, Page

    from greasecheck.live.parts import LiveSettings

pytestmark = needs_chromium


@dataclass(frozen=True, slots=True, kw_only=True)
class Served:
    """A served season, with a look into its logbook."""

    address: str
    settings: LiveSettings

    def rows(self, sql: str) -> list[tuple[Any, ...]]:
        with Logbook(self.settings.logbook) as book:
            return book.rows(sql)

    def count(self, table: str) -> int:
        [(number,)] = self.rows(f"SELECT count(*) FROM {table}")
        return int(number)


def serve_season(folder: Path, **changes: Any) -> Iterator[Served]:  # noqa: ANN401 - any setting
    settings = live_settings(folder, **changes)
    begin_season(settings.logbook, datetime.now(UTC) - timedelta(days=5))
    with running(settings) as address:
        yield Served(address=address, settings=settings)


@pytest.fixture
def season(tmp_path: Path) -> Iterator[Served]:
    yield from serve_season(tmp_path)


def send(page: Page, *photos: Path | FilePayload) -> None:
    """Choose photos, which sends them."""
    with page.expect_navigation():
        page.set_input_files("#files", list(photos))  # type: ignore[arg-type]
    page.wait_for_selector(".verdict")


def payload(name: str, content: bytes) -> FilePayload:
    return {"name": name, "mimeType": "image/jpeg", "buffer": content}


def misfits(page: Page) -> list[str]:
    """Return what is wrong with how a page is laid out."""
    return [*small_targets(page), *covered(page), *(["it sticks out"] * sticks_out(page))]


def faults_everywhere(page: Page) -> list[str]:
    """Return what is wrong with a page at every width, in light and dark."""
    found = []
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        for scheme in SCHEMES:
            page.emulate_media(color_scheme=scheme)
            found += [f"{width} px, {scheme}: {wrong}" for wrong in faults(page)]
    page.set_viewport_size({"width": WIDTHS[0], "height": 900})
    page.emulate_media(color_scheme="light")
    return found


def faults(page: Page) -> list[str]:
    """Return what is wrong with how a page is built and laid out."""
    return [*axe_faults(page), *misfits(page)]


def test_every_page_is_sound(browser: Browser, season: Served) -> None:
    look = faults_everywhere
    with opened(browser, season.address, WIDTHS[0], "light") as (page, complaints):
        found = {"today": look(page)}
        for name, photo in (
            ("good", TUB12),
            ("refused", REFUSED),
            ("no time", payload("a.jpg", without_exif())),
            ("text", payload("b.jpg", b"no picture")),
        ):
            page.goto(f"{season.address}photos")
            send(page, photo)
            found[name] = look(page)
        page.goto(f"{season.address}photos")
        found["photos"] = look(page)
        page.goto(season.address)
        follow(page, "#tub-12")
        found["tub"] = look(page)
        for fold in page.query_selector_all("summary"):
            fold.click()
        found["tub unfolded"] = look(page)
        page.select_option("#recipe-water", "ammonia")
        follow(page, "text=Enter this change")
        found["made"] = look(page)
        follow(page, "#water > button.primary")
        found["changed again"] = look(page)
        for name in (
            "changes",
            "skulls",
            "skull?name=fox%203",
            "entries",
            "entries/1",
            "more",
            "promises?species=fox",
            "tubs/12/readings",
            "setup",
        ):
            page.goto(f"{season.address}{name}")
            for fold in page.query_selector_all("summary"):
                if fold.is_visible():
                    fold.click()
            found[name] = look(page)
        assert complaints == []
        page.goto(f"{season.address}nowhere")
        found["message"] = look(page)
    assert {name: wrong for name, wrong in found.items() if wrong} == {}


@pytest.mark.parametrize("width", WIDTHS)
def test_a_photo_becomes_a_reading_and_is_logged(
    browser: Browser, season: Served, width: int
) -> None:
    with opened(browser, season.address, width, "light") as (page, complaints):
        send(page, TUB12)
        assert page.inner_text(".verdict strong") == "Good"
        assert "per metre" not in page.inner_text("main"), "figures lie one tap deeper"
        assert "Water very cloudy, bone yellow over" in page.inner_text("main")
        page.click("#figures > summary")
        assert "± " in page.inner_text(".facts")
        assert (
            page.evaluate(
                "(() => { const i = document.querySelector('.photo img');"
                " return i.complete && i.naturalWidth })()"
            )
            == 1400
        )
        assert season.count("readings") == 0
        follow(page, "text=Log it")
        page.wait_for_selector(".done")
        assert "In the logbook for tub 12" in page.inner_text(".done")
        assert season.rows("SELECT tub FROM readings") == [(12,)]
        assert complaints == []


def test_the_advice_comes_when_it_is_weighed(browser: Browser, tmp_path: Path) -> None:
    for season in serve_season(tmp_path, make_executor=one_worker):
        with opened(browser, season.address, 390, "light") as (page, complaints):
            assert "2 of 2 tubs are being worked out" in page.inner_text("#weighing")
            page.wait_for_selector("#weighing", state="detached")
            follow(page, "#tub-12")
            page.wait_for_selector("text=degreased about")
            assert page.query_selector("figure svg") is not None
            assert faults(page) == []
            assert complaints == []


def test_a_long_answer_leaves_room_for_the_number(browser: Browser, season: Served) -> None:
    with opened(browser, season.address, 390, "light") as (page, _):
        page.evaluate(
            "document.querySelector('#tub-12 strong').innerHTML ="
            " 'degreased about 16 January <span class=\"small\">(being worked out)</span>'"
        )
        row = page.evaluate("document.querySelector('#tub-12').getBoundingClientRect().height")
        name = page.evaluate("document.querySelector('#tub-12 .who').getBoundingClientRect().width")
    assert name >= 64
    assert row <= 60, "twelve rows stay on one screen"


def test_one_tap_changes_the_water_and_one_takes_it_back(browser: Browser, season: Served) -> None:
    with opened(browser, season.address, 390, "light") as (page, complaints):
        follow(page, "#tub-12")
        page.dblclick("#water > button.primary")
        page.wait_for_selector(".made >> text=Undo")
        assert page.inner_text("h1").endswith("by the door")
        assert season.count("baths") == 2
        follow(page, ".made >> text=Undo")
        page.wait_for_selector(".made:has-text('Taken back')")
        assert page.inner_text("h1").endswith("by the door")
        assert season.count("baths") == 1
        assert complaints == []


def test_a_text_file_and_nasty_names_do_no_harm(browser: Browser, season: Served) -> None:
    with opened(browser, season.address, 390, "light") as (page, complaints):
        send(page, payload("photo.jpg", b"dear diary"))
        assert page.inner_text(".verdict strong") == "Refused"
        assert "not a picture that can be read" in page.inner_text(".advice")
        page.goto(season.address)
        send(page, payload(f"{NASTY}.jpg", TUB12.read_bytes()))
        assert NASTY in page.inner_text("main")
        page.goto(f"{season.address}photos")
        assert NASTY in page.inner_text("main")
        page.goto(season.address)
        assert NASTY in page.inner_text("#tub-14")
        follow(page, "#tub-14")
        assert NASTY in page.inner_text("h1")
        assert page.query_selector("img[src=x]") is None
        assert complaints == []


def test_a_photo_without_time_is_logged_when_the_time_is_told(
    browser: Browser, season: Served
) -> None:
    with opened(browser, season.address, 390, "light") as (page, complaints):
        send(page, payload("a.jpg", without_exif()))
        page.click("text=Log it")
        assert season.count("readings") == 0
        page.click("text=Just now")
        follow(page, "text=Log it")
        page.wait_for_selector(".done")
        assert season.rows("SELECT time_source FROM readings") == [("by hand",)]
        assert complaints == []


def test_the_keyboard_alone_changes_the_water(browser: Browser, season: Served) -> None:
    with opened(browser, f"{season.address}tubs/12", 1280, "light") as (page, _):
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.getAttribute('href')") == "#main"
        for _ in range(30):
            page.keyboard.press("Tab")
            if page.evaluate("!!document.activeElement.closest('#water')"):
                break
        assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
        page.keyboard.press("Enter")
        page.wait_for_selector("text=Undo")
        assert season.count("baths") == 2


def test_it_works_without_script(browser: Browser, season: Served) -> None:
    context = browser.new_context(java_script_enabled=False, viewport={"width": 390, "height": 800})
    page = context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    page.goto(season.address)
    page.set_input_files("#files", TUB12)
    follow(page, "form:has(#files) button")
    assert page.inner_text(".verdict strong") == "Good"
    follow(page, "text=Log it")
    assert season.count("readings") == 1
    context.close()


def test_without_the_code_there_is_only_the_form(browser: Browser, tmp_path: Path) -> None:
    codes: list[str] = []
    for season in serve_season(tmp_path, pairing=Pairing(codes.append)):
        with opened(browser, f"{season.address}photos", 390, "dark") as (page, complaints):
            assert page.url == f"{season.address}pair"
            assert "tub" not in page.content().split("</style>")[1].lower()
            assert faults(page) == []
            page.fill("#code", codes[0])
            page.keyboard.press("Enter")
            page.wait_for_selector("text=Water changed")
            assert page.context.cookies()[0]["httpOnly"]
            assert page.evaluate("document.cookie") == ""
            assert complaints == []
        with opened(browser, season.address, 390, "light") as (other, _):
            assert other.url == f"{season.address}pair"
