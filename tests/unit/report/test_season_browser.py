"""Looks at the season's page in a real browser, on a phone and on a desk."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING, Literal

import pytest

from greasecheck.report.season import season_page
from tests.unit.report import season_samples as samples

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from playwright.sync_api import Browser, Page

playwright = pytest.importorskip(
    "playwright.sync_api", reason="the Python package playwright is not installed"
)
CHROMIUM = shutil.which("chromium")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="Debian's chromium is not installed")
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
WIDTHS = (390, 1280)
Scheme = Literal["light", "dark"]
SCHEMES: tuple[Scheme, ...] = ("light", "dark")


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with playwright.sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("season") / "season.html"
    path.write_text(season_page(samples.season()), encoding="utf-8")
    return path


def look(browser: Browser, file: Path, width: int, scheme: Scheme) -> tuple[Page, list[str]]:
    """Open the page; the list fills with what it says on the console and asks of a network."""
    page = browser.new_page(viewport={"width": width, "height": 900}, color_scheme=scheme)
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("dialog", lambda dialog: complaints.append(dialog.message))
    page.on(
        "request",
        lambda asked: (
            None if asked.url.startswith(("file:", "data:")) else complaints.append(asked.url)
        ),
    )
    page.goto(file.as_uri())
    return page, complaints


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("width", WIDTHS)
def test_nothing_sticks_out_and_nothing_complains(
    browser: Browser, file: Path, width: int, scheme: Scheme
) -> None:
    page, complaints = look(browser, file, width, scheme)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert page.evaluate(
        "[...document.querySelectorAll('svg, img')]"
        ".every(e => e.getBoundingClientRect().width > 250)"
    )
    assert complaints == []
    page.close()


def test_dark_is_dark_in_page_and_charts(browser: Browser, file: Path) -> None:
    for scheme in SCHEMES:
        is_dark = scheme == "dark"
        page, _ = look(browser, file, 390, scheme)
        colour = page.evaluate("getComputedStyle(document.body).backgroundColor")
        assert (sum(map(int, colour[4:-1].split(","))) < 200) is is_dark
        ink = page.evaluate("getComputedStyle(document.querySelector('svg text')).fill")
        assert (sum(map(int, ink[4:-1].split(","))) < 200) is not is_dark
        page.close()


def test_the_letters_of_the_charts_are_large_enough_on_a_phone(
    browser: Browser, file: Path
) -> None:
    page, _ = look(browser, file, 390, "light")
    smallest = page.evaluate(
        "Math.min(...[...document.querySelectorAll('svg text')].map("
        "e => parseFloat(getComputedStyle(e).fontSize)"
        " * Math.hypot(e.getScreenCTM().a, e.getScreenCTM().b)))"
    )
    assert smallest >= 11.0
    page.close()


def test_the_keyboard_reaches_the_list_first_and_opens_the_reasons(
    browser: Browser, file: Path
) -> None:
    page, _ = look(browser, file, 390, "light")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.getAttribute('href')") == "#today"
    page.keyboard.press("Enter")
    assert page.evaluate("location.hash") == "#today"
    page.locator("#tub-12 summary").focus()
    page.keyboard.press("Enter")
    assert page.evaluate("document.querySelector('#tub-12 details').open")
    page.close()
