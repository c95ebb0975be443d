"""Looks at the season's page in a real browser, on a phone and on a desk."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from greasecheck.report.season.page import season_page
from tests.browser import SCHEMES, WIDTHS, axe_faults, needs_chromium, opened, sticks_out
from tests.unit.report import season_samples as samples

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Browser

    from tests.browser import Scheme

pytestmark = needs_chromium


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("season") / "season.html"
    path.write_text(season_page(samples.season()), encoding="utf-8")
    return path


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("width", WIDTHS)
def test_nothing_sticks_out_and_nothing_complains(
    browser: Browser, file: Path, width: int, scheme: Scheme
) -> None:
    with opened(browser, file.as_uri(), width, scheme) as (page, complaints):
        assert not sticks_out(page)
        assert page.evaluate(
            "[...document.querySelectorAll('svg, img')]"
            ".every(e => e.getBoundingClientRect().width > 250)"
        )
        assert complaints == []


def test_dark_is_dark_in_page_and_charts(browser: Browser, file: Path) -> None:
    for scheme in SCHEMES:
        is_dark = scheme == "dark"
        with opened(browser, file.as_uri(), 390, scheme) as (page, _):
            colour = page.evaluate("getComputedStyle(document.body).backgroundColor")
            assert (sum(map(int, colour[4:-1].split(","))) < 200) is is_dark
            ink = page.evaluate("getComputedStyle(document.querySelector('svg text')).fill")
            assert (sum(map(int, ink[4:-1].split(","))) < 200) is not is_dark


def test_the_letters_of_the_charts_are_large_enough_on_a_phone(
    browser: Browser, file: Path
) -> None:
    with opened(browser, file.as_uri(), 390, "light") as (page, _):
        smallest = page.evaluate(
            "Math.min(...[...document.querySelectorAll('svg text')].map("
            "e => parseFloat(getComputedStyle(e).fontSize)"
            " * Math.hypot(e.getScreenCTM().a, e.getScreenCTM().b)))"
        )
        assert smallest >= 11.0


def test_the_keyboard_reaches_the_list_first_and_opens_the_reasons(
    browser: Browser, file: Path
) -> None:
    with opened(browser, file.as_uri(), 390, "light") as (page, _):
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.getAttribute('href')") == "#today"
        page.keyboard.press("Enter")
        assert page.evaluate("location.hash") == "#today"
        page.locator("#tub-12 > summary").focus()
        page.keyboard.press("Enter")
        assert page.evaluate("document.querySelector('#tub-12').open")


@pytest.mark.parametrize("scheme", SCHEMES)
def test_axe_finds_no_fault(browser: Browser, file: Path, scheme: Scheme) -> None:
    with opened(browser, file.as_uri(), 390, scheme) as (page, _):
        assert axe_faults(page) == []


def test_an_opened_tub_is_short_on_a_phone(browser: Browser, file: Path) -> None:
    with opened(browser, file.as_uri(), 390, "light") as (page, _):
        page.evaluate("document.querySelectorAll('details.tub').forEach(tub => tub.open = true)")
        heights = page.evaluate(
            "[...document.querySelectorAll('details.tub')].map(tub => tub.offsetHeight)"
        )
        assert heights
        assert max(heights) <= 0.8 * 844, "eleven tubs have eight screens of 844"
