"""Takes the README's pictures of the season's page, on a phone and on a desk.

Run it after the demo, with playwright and Debian's Chromium installed:

    export TZ=Europe/Berlin  # as the cameras of the sample photos have it
    greasecheck demo && python -m sample_images.shown greasecheck-demo/season.html

With the address of a served page after it, the live page is taken, too:

    greasecheck serve --logbook SEASON.logbook
    python -m sample_images.shown greasecheck-demo/season.html http://localhost:8377/
"""

from __future__ import annotations

import shutil
import sys
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import Image
from playwright.sync_api import sync_playwright

from greasecheck.measure.reading import ReadSettings, view_photo
from greasecheck.report.overlay import BAND_PX, draw_overlay

if TYPE_CHECKING:
    from playwright.sync_api import Browser, FloatRect

FOLDER = Path(__file__).parent / "shown"
FLAGS = ("--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync")
PHONE_PX, PHONE_SCALE, PHONE_HEIGHT_PX, GAP_PX = 390, 1.2, 1080, 24
DESK_PX, DESK_HEIGHT_PX = 1280, 990
BETWEEN = "#ffffff"
LIVE_WAIT_MS = 120_000
QUALITY = 82
LADDERS = Path(__file__).parent / "ladders"
DAY_HOURS, DAY_PX, TUBS_PX, FOOT_PX = (6, 8, 10, 22), 700, 440, 70
ON_PHONE, ON_DESK = "tub-14", "tub-12"


def take(
    browser: Browser, page_file: Path, width: int, scale: float, clip: FloatRect, opened: str = ""
) -> Image.Image:
    """Return a part of the page as a picture, with a tub opened or none."""
    page = browser.new_page(
        viewport={"width": width, "height": 900}, device_scale_factor=scale, color_scheme="light"
    )
    page.goto(page_file.resolve().as_uri())
    if opened:
        page.evaluate(f"document.getElementById('{opened}').open = true")
    content = page.screenshot(full_page=True, clip=clip)
    page.close()
    return Image.open(BytesIO(content)).convert("RGB")


def top_of(browser: Browser, page_file: Path, width: int, part: str) -> float:
    """Return how far down the page a part begins [CSS px]."""
    page = browser.new_page(viewport={"width": width, "height": 900})
    page.goto(page_file.resolve().as_uri())
    top = page.evaluate(f"document.getElementById('{part}').getBoundingClientRect().top + scrollY")
    page.close()
    return float(top)


def phone(browser: Browser, page_file: Path) -> Image.Image:
    """Return the answers, and a tub opened, on a phone, side by side."""
    shown = ((0.0, ""), (top_of(browser, page_file, PHONE_PX, ON_PHONE) - 12, ON_PHONE))
    parts = [
        take(
            browser,
            page_file,
            PHONE_PX,
            PHONE_SCALE,
            {"x": 0, "y": top, "width": PHONE_PX, "height": PHONE_HEIGHT_PX},
            opened,
        )
        for top, opened in shown
    ]
    return side_by_side(parts)


def side_by_side(parts: list[Image.Image]) -> Image.Image:
    """Return pictures of one size beside each other."""
    width, height = parts[0].size
    whole = Image.new("RGB", (len(parts) * (width + GAP_PX) - GAP_PX, height), BETWEEN)
    for place, part in enumerate(parts):
        whole.paste(part, (place * (width + GAP_PX), 0))
    return whole


def live(browser: Browser, address: str) -> Image.Image:
    """Return pages of the live page on a phone: the list, a tub, the skulls, water changed."""
    page = browser.new_page(viewport={"width": PHONE_PX, "height": 844}, color_scheme="light")
    page.set_default_timeout(LIVE_WAIT_MS)
    page.goto(address)
    page.wait_for_selector("#weighing", state="detached")
    first = page.get_attribute(".answer", "href") or "/"
    parts = []
    for name in ("", first.lstrip("/"), "skulls", "changes"):
        page.goto(f"{address}{name}")
        parts.append(Image.open(BytesIO(page.screenshot())).convert("RGB"))
    page.close()
    return side_by_side(parts)


def desk(browser: Browser, page_file: Path) -> Image.Image:
    """Return tubs with their charts on a wide screen."""
    top = top_of(browser, page_file, DESK_PX, ON_DESK) - 12
    return take(
        browser,
        page_file,
        DESK_PX,
        1.0,
        {"x": 0, "y": top, "width": DESK_PX, "height": DESK_HEIGHT_PX},
        ON_DESK,
    )


def day() -> Image.Image:
    """Return four moments of the day of ladders, as the tool draws what it found."""
    parts = []
    for hour in DAY_HOURS:
        view = view_photo(LADDERS / f"2026-05-20_{hour:02d}h.jpg", ReadSettings())
        drawn = draw_overlay(view)
        band = drawn.crop((0, 0, drawn.width, BAND_PX))
        tubs = drawn.crop((0, drawn.height - TUBS_PX, drawn.width, drawn.height - FOOT_PX))
        part = Image.new("RGB", (drawn.width, band.height + tubs.height), BETWEEN)
        part.paste(band, (0, 0))
        part.paste(tubs, (0, band.height))
        parts.append(part.resize((DAY_PX, DAY_PX * part.height // part.width)))
    rows = [side_by_side(parts[:2]), side_by_side(parts[2:])]
    width, height = rows[0].size
    whole = Image.new("RGB", (width, 2 * height + GAP_PX), BETWEEN)
    for place, row in enumerate(rows):
        whole.paste(row, (0, place * (height + GAP_PX)))
    return whole


def main() -> None:
    """Take the pictures of the pages named on the command line."""
    page_file, addresses = Path(sys.argv[1]), sys.argv[2:]
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        pictures = {
            "season_phone.jpg": phone(browser, page_file),
            "season_desk.jpg": desk(browser, page_file),
            "ladder_day.jpg": day(),
        }
        for one in addresses:
            pictures["live_phone.jpg"] = live(browser, one)
        browser.close()
    for name, picture in pictures.items():
        picture.save(FOLDER / name, quality=QUALITY, optimize=True)


if __name__ == "__main__":
    main()
