"""A real browser for tests of pages: Debian's Chromium on a phone and on a desk, with axe-core."""

from __future__ import annotations

import shutil
from contextlib import contextmanager
from typing import TYPE_CHECKING, Literal
from urllib.parse import urljoin

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, Dialog, Page

CHROMIUM = shutil.which("chromium")
needs_chromium = pytest.mark.skipif(CHROMIUM is None, reason="Debian's chromium is not installed")
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
PATIENCE_MS = 180_000  # a busy machine is slow, which is no fault
WIDTHS = (390, 1280)
Scheme = Literal["light", "dark"]
SCHEMES: tuple[Scheme, ...] = ("light", "dark")
SMALLEST_TARGET_PX = 48.0  # a thumb's; WCAG 2.2, success criterion 2.5.5, asks for 44


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    playwright = pytest.importorskip(
        "playwright.sync_api", reason="the Python package playwright is not installed"
    )
    with playwright.sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield opened
        opened.close()


@contextmanager
def opened(
    browser: Browser, address: str, width: int, scheme: Scheme
) -> Iterator[tuple[Page, list[str]]]:
    """Open a page; the list fills with what it says on the console and asks of other hosts."""
    page = browser.new_page(viewport={"width": width, "height": 900}, color_scheme=scheme)
    page.set_default_timeout(PATIENCE_MS)
    complaints: list[str] = []
    own = ("data:", urljoin(address, "/"))
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))

    def refuse(dialog: Dialog) -> None:
        complaints.append(dialog.message)
        dialog.dismiss()

    page.on("dialog", refuse)
    page.on(
        "request", lambda asked: None if asked.url.startswith(own) else complaints.append(asked.url)
    )
    page.goto(address)
    yield page, complaints
    page.close()


def follow(page: Page, selector: str) -> None:
    """Tap what leads to another page, and wait until that page is there."""
    with page.expect_navigation():
        page.click(selector)


def sticks_out(page: Page) -> bool:
    """Return whether the page must be scrolled sideways."""
    return bool(
        page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth")
    )


def small_targets(page: Page) -> list[str]:
    """Return what is to be touched but too small for a finger; links within a sentence may be."""
    found: list[str] = page.evaluate(
        """smallest => [...document.querySelectorAll(
            'button, .button, .answer, summary, select, input:not([type=hidden]), nav a')]
            .filter(e => e.getClientRects().length)
            .map(e => [e.matches('[type=radio], [type=checkbox]') ? e.closest('label') : e,
                       e.outerHTML])
            .filter(([e]) => e.getBoundingClientRect().height < smallest
                          || e.getBoundingClientRect().width < smallest)
            .map(([, html]) => html)""",
        SMALLEST_TARGET_PX,
    )
    return found


def covered(page: Page) -> list[str]:
    """Return what is to be touched but lies under something else."""
    found: list[str] = page.evaluate(
        """() => [...document.querySelectorAll(
            'button, .button, .answer, summary, select, .primary, a, '
            + 'input:not([type=hidden], [type=file])')]
            .filter(e => e.checkVisibility() && !e.matches('.skip'))
            .filter(e => {
                e.scrollIntoView({ block: 'center', behavior: 'instant' });
                const box = e.getClientRects()[0];
                const hit = document.elementFromPoint(
                    box.x + box.width / 2, box.y + box.height / 2);
                return !(e.contains(hit) || e.control === hit);
            })
            .map(e => e.outerHTML)"""
    )
    return [f"covered: {html}" for html in found]


def axe_faults(page: Page) -> list[str]:
    """Return what axe-core finds wrong with a page, of any gravity."""
    axe = pytest.importorskip(
        "axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed"
    )
    found = axe.Axe().run(page).response["violations"]
    return [
        f"{fault['impact']}: {fault['id']}: {node['html']}"
        for fault in found
        for node in fault["nodes"]
    ]
