"""Takes the README's pictures of the season's page, on a phone and on a desk.

Run it after the demo, with playwright and Debian's Chromium installed:

    greasecheck demo && python -m sample_images.shown greasecheck-demo/season.html
"""

from __future__ import annotations

import shutil
import sys
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import Image
from playwright.sync_api import sync_playwright

if TYPE_CHECKING:
    from playwright.sync_api import Browser, FloatRect

FOLDER = Path(__file__).parent / "shown"
FLAGS = ("--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync")
PHONE_PX, PHONE_SCALE, PHONE_HEIGHT_PX, GAP_PX = 390, 1.2, 1080, 24
DESK_PX, DESK_HEIGHT_PX = 1280, 990
BETWEEN = "#ffffff"
QUALITY = 82
ON_PHONE, ON_DESK = "tub-14", "tub-12"


def take(
    browser: Browser, page_file: Path, width: int, scale: float, clip: FloatRect
) -> Image.Image:
    """Return a part of the page as a picture."""
    page = browser.new_page(
        viewport={"width": width, "height": 900}, device_scale_factor=scale, color_scheme="light"
    )
    page.goto(page_file.resolve().as_uri())
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
    """Return today's list and a tub's card on a phone, side by side."""
    tops = (0.0, top_of(browser, page_file, PHONE_PX, ON_PHONE) - 12)
    parts = [
        take(
            browser,
            page_file,
            PHONE_PX,
            PHONE_SCALE,
            {"x": 0, "y": top, "width": PHONE_PX, "height": PHONE_HEIGHT_PX},
        )
        for top in tops
    ]
    width, height = parts[0].size
    both = Image.new("RGB", (2 * width + GAP_PX, height), BETWEEN)
    both.paste(parts[0], (0, 0))
    both.paste(parts[1], (width + GAP_PX, 0))
    return both


def desk(browser: Browser, page_file: Path) -> Image.Image:
    """Return tubs with their charts on a wide screen."""
    top = top_of(browser, page_file, DESK_PX, ON_DESK) - 12
    return take(
        browser,
        page_file,
        DESK_PX,
        1.0,
        {"x": 0, "y": top, "width": DESK_PX, "height": DESK_HEIGHT_PX},
    )


def main() -> None:
    """Take both pictures of the page named on the command line."""
    page_file = Path(sys.argv[1])
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        pictures = {
            "season_phone.jpg": phone(browser, page_file),
            "season_desk.jpg": desk(browser, page_file),
        }
        browser.close()
    for name, picture in pictures.items():
        picture.save(FOLDER / name, quality=QUALITY, optimize=True)


if __name__ == "__main__":
    main()
