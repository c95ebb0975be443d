"""A skull's looks side by side, from the photos that this page kept."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from greasecheck.garage.pictures.strip import skull_strip
from greasecheck.live.photos.kept import kept_file
from greasecheck.logbook.store.book import Logbook

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.measure.reading import ReadSettings


def strip_content(logbook: Path, settings: ReadSettings, skull: str, photos: Path) -> bytes | None:
    """Draw a skull's looks side by side as a PNG; runs in a worker."""
    with Logbook(logbook) as book:
        strip = skull_strip(book, skull, settings, partial(kept_file, photos))
    return strip.png if strip else None
