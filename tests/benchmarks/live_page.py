"""How soon the live page answers: a 12 MP photo sent and read, and the list of many tubs.

Run ``python -m tests.benchmarks.live_page``.
"""

from __future__ import annotations

import argparse
import re
import tempfile
import time
import urllib.request
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING
from urllib.parse import urljoin

import cv2

from greasecheck.live.tubs.weighing import one_worker
from greasecheck.logbook.readings.readings import enter_by_hand
from greasecheck.logbook.records import HandReading, Skull, SkullEvent, Tub
from greasecheck.logbook.skulls.skulls import enter_skull
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub
from greasecheck.measure.reading import ReadSettings
from greasecheck.model import Recipe
from greasecheck.stages import EventKind
from tests.benchmarks.reading_speed import twelve_megapixels
from tests.unit.live.phones import live_settings, running

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

BOUNDARY = b"benchmark"
TUBS, DAYS = 20, 60
QUICK_TUBS, QUICK_DAYS = 4, 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """Times from the request to the whole answer [s].

    Attributes
    ----------
    imread_s : float
        `cv2.imread` of the 12 MP photo, for comparison.
    photo_s : float
        The photo sent until its page with the reading is there.
    picture_s : float
        The picture of what was found.
    list_cold_s, list_s : float
        The first page while every tub is being weighed for the first time, and afterwards.
    """

    imread_s: float
    photo_s: float
    picture_s: float
    list_cold_s: float
    list_s: float


def measure(repeats: int, tubs: int, days: int) -> Answers:
    """Measure on this machine, by a server of its own."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        photo = twelve_megapixels(folder)
        with season_served(folder, tubs, days) as address:
            list_cold_s = seconds(address)
            sent = [send(address, photo.read_bytes() + bytes([n])) for n in range(repeats + 1)]
            list_s = median(seconds(address) for _ in range(repeats))
        decoding = [timed(lambda: cv2.imread(str(photo))) for _ in range(repeats + 1)]
    return Answers(
        imread_s=median(decoding[1:]),
        photo_s=median(one for one, _ in sent[1:]),
        picture_s=median(one for _, one in sent[1:]),
        list_cold_s=list_cold_s,
        list_s=list_s,
    )


@contextmanager
def season_served(folder: Path, tubs: int, days: int) -> Iterator[str]:
    """Serve a season of so many tubs, read daily for so many days."""
    settings = live_settings(folder, read=ReadSettings(), make_executor=one_worker)
    with Logbook(settings.logbook, create=True) as book:
        for number in range(10, 10 + tubs):
            fill(book, number, days)
    with running(settings) as address:
        yield address


def fill(book: Logbook, number: int, days: int) -> None:
    """Enter a tub with a skull, a change every fourth day and a reading every day."""
    start = datetime.now(UTC) - timedelta(days=days)
    enter_tub(book, Tub(number=number))
    entered = SkullEvent(
        skull=f"fox {number}", happened_at=start, kind=EventKind.ENTERED, tub=number
    )
    enter_skull(book, Skull(name=f"fox {number}", species="fox"), entered)
    for day in range(days):
        if day % 4 == 0:
            change_water(book, [number], start + timedelta(days=day), Filling(recipe=Recipe.SOAP))
        enter_by_hand(
            book,
            HandReading(
                tub=number,
                taken_at=start + timedelta(days=day + 0.5),
                attenuation_per_m=2.0 + 5.0 * (day % 4) * 0.98**day,
                attenuation_std_per_m=0.4,
            ),
        )


def send(address: str, content: bytes) -> tuple[float, float]:
    """Send a photo; return how long its page took, and its picture [s]."""
    token = re.search(r'name="form_token" value="([^"]+)"', fetch(f"{address}photos"))
    assert token
    head = b'--%s\r\nContent-Disposition: form-data; name="%s"%s\r\n\r\n%s\r\n'
    body = head % (BOUNDARY, b"form_token", b"", token[1].encode())
    body += head % (BOUNDARY, b"photo", b'; filename="a.jpg"', content)
    request = urllib.request.Request(
        f"{address}photos",
        data=body + b"--%s--\r\n" % BOUNDARY,
        headers={
            "Content-Type": f"multipart/form-data; boundary={BOUNDARY.decode()}",
            "Origin": address.rstrip("/"),
        },
    )
    begun = time.perf_counter()
    with urllib.request.urlopen(request) as answer:
        page = answer.read().decode()
        page_s = time.perf_counter() - begun
        assert "per metre" in page
        picture = re.search(r'<img src="([^"]+)"', page)
        assert picture
        return page_s, seconds(urljoin(answer.url, picture[1]))


def seconds(address: str) -> float:
    """Return how long an answer takes [s]."""
    return timed(lambda: urllib.request.urlopen(address).close())


def timed(work: Callable[[], object]) -> float:
    """Return how long a piece of work takes [s]."""
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def fetch(address: str) -> str:
    """Return the text of an answer."""
    with urllib.request.urlopen(address) as answer:
        text: str = answer.read().decode()
    return text


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="few tubs, few repeats")
    quick = parser.parse_args().quick
    answers = measure(2, QUICK_TUBS, QUICK_DAYS) if quick else measure(9, TUBS, DAYS)
    print(f"12 MP photo sent and read [s]        {answers.photo_s:.2f}")
    print(f"  over cv2.imread                    {answers.photo_s / answers.imread_s:.1f}")
    print(f"picture of what was found [s]        {answers.picture_s:.3f}")
    print(f"list while all is weighed [s]        {answers.list_cold_s:.3f}")
    print(f"list [s]                             {answers.list_s:.3f}")


if __name__ == "__main__":
    main()
