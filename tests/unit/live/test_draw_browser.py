"""Corrects with a finger what is bone, in a real browser: a tap, a loop, and what is logged."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.logbook.readings.drawings import drawn_of
from greasecheck.logbook.store.book import Logbook
from greasecheck.measure.reading import ReadSettings
from greasecheck.model import Stroke
from tests.browser import follow, needs_chromium, opened
from tests.synthetic.bone_scene.scenes import SceneOrder, photograph
from tests.synthetic.spectral_simulation import CAMERAS, printed_card
from tests.unit.live.phones import begin_season, live_settings, running

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from playwright.sync_api import Browser, Page

pytestmark = needs_chromium
PIECES = SceneOrder(
    name="pieces",
    kind="two pieces",
    length_mm=145.0,
    light="window",
    camera=CAMERAS[0],
    seed=4,
    tilt_deg=12.0,
    azimuth_deg=80.0,
    grease=0.35,
    size_px=(960, 720),
)
BAND = 66  # above the photo in the picture of what was found


@pytest.fixture
def address(tmp_path: Path) -> Iterator[str]:
    read = ReadSettings(values=printed_card().measured)
    settings = live_settings(tmp_path, read=read)
    begin_season(settings.logbook, datetime.now(UTC) - timedelta(days=5))
    with running(settings) as found:
        yield found


def area(page: Page) -> float:
    """Area of the outlines drawn, by the reading that the page would log."""
    return float(page.get_attribute("#drawable", "data-area") or "nan")


def on_page(page: Page, x: float, y: float) -> tuple[float, float]:
    """Where a pixel of the photo is on the page."""
    box = page.locator("#drawable img").bounding_box()
    assert box is not None
    shown = box["width"] / 1400
    scale = 1400 / PIECES.size_px[0]
    return box["x"] + x * scale * shown, box["y"] + (y * scale + BAND) * shown


@pytest.mark.parametrize("width", [390, 1280])
def test_a_tap_drops_a_piece_a_loop_leaves_out_an_area_and_both_are_logged(
    browser: Browser, address: str, tmp_path: Path, width: int
) -> None:
    photo = photograph(PIECES)
    path = tmp_path / "pieces.jpg"
    path.write_bytes(photo.jpeg)
    with opened(browser, f"{address}photos", width, "light") as (page, complaints):
        page.set_input_files("#files", [path])
        page.wait_for_selector("#drawable")
        whole = area(page)
        pieces = json.loads(page.get_attribute("#drawable", "data-pieces") or "[]")
        assert len(pieces) == 2
        jaw = np.array(pieces[1])
        page.locator("#drawable").scroll_into_view_if_needed()
        page.mouse.click(*on_page(page, *_inside(jaw)))
        follow(page, "#use-drawing")
        tapped = area(page)
        assert tapped < 0.9 * whole
        left, top = np.min(pieces[0], axis=0)
        right, bottom = np.max(pieces[0], axis=0)
        middle = (left + right) / 2
        page.locator("#drawable").scroll_into_view_if_needed()
        loop = [(left, top), (middle, top), (middle, bottom), (left, bottom), (left, top)]
        page.mouse.move(*on_page(page, *loop[0]))
        page.mouse.down()
        for corner in loop[1:]:
            page.mouse.move(*on_page(page, *corner), steps=8)
        page.mouse.up()
        follow(page, "#use-drawing")
        assert area(page) < 0.8 * tapped
        page.locator("text=At another time").first.click()
        page.fill("#taken-at", f"{datetime.now() - timedelta(hours=1):%Y-%m-%dT%H:%M}")  # noqa: DTZ005 - the phone's own time
        page.select_option("#tub", "12")
        follow(page, "text=Log it")
        page.wait_for_selector(".done")
    assert complaints == []
    with Logbook(tmp_path / "season.logbook") as book:
        [(drawn, logged_mm2)] = book.rows(
            "SELECT drawn, bone_area_mm2 FROM readings WHERE kind = 'bone'"
        )
    assert [one.stroke for one in drawn_of(drawn)] == [Stroke.TAP, Stroke.LEAVE_OUT]
    assert logged_mm2 < 0.8 * tapped


def _inside(outline: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> tuple[float, float]:
    """A place well inside an outline: the middle of its widest row."""
    import cv2  # noqa: PLC0415

    canvas = np.zeros((PIECES.size_px[1], PIECES.size_px[0]), np.uint8)
    cv2.fillPoly(canvas, [np.rint(outline).astype(np.int32)], (1,))
    depth = cv2.distanceTransform(canvas, cv2.DIST_L2, 3)
    row, column = np.unravel_index(int(depth.argmax()), depth.shape)
    return float(column), float(row)
