"""The version of the model: what was worked out by another is not taken for its answer."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import greasecheck
from greasecheck.garage.soaks.prices import set_prices
from greasecheck.reference import data_folder

if TYPE_CHECKING:
    from collections.abc import Iterator

    from greasecheck.logbook.store.book import Logbook

# What answers are worked out by, all that it imports: rooms, and files of other rooms.
ROOMS = ("predict", "garage", "logbook", "model", "reference")
FILES = (
    "stages.py",
    "measure/colorimetry.py",
    "measure/moments.py",
    "measure/robust.py",
    "measure/bone/target.py",
)


def answers_version(book: Logbook) -> str:
    """Return what answers rest on beside the rows of their tub: the model and the prices."""
    prices = set_prices(book)
    return f"{model_version()}|{prices.change}|{prices.day}"


@cache
def model_version() -> str:
    """Return the digest of the code and of the tables that answers are worked out by."""
    tables = sorted(data_folder("calibration").glob("*.csv"))
    content = b"".join(file.read_bytes() for file in (*model_code(), *tables))
    return hashlib.sha256(content).hexdigest()[:16]


def model_code() -> Iterator[Path]:
    """Yield the files of code that answers are worked out by."""
    package = Path(greasecheck.__file__).parent
    for room in ROOMS:
        yield from sorted((package / room).rglob("*.py"))
    yield from (package / name for name in FILES)
