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
    from greasecheck.logbook.store.book import Logbook

ROOMS = ("predict", "garage")  # what answers are worked out by


def answers_version(book: Logbook) -> str:
    """Return what answers rest on beside the rows of their tub: the model and the prices."""
    prices = set_prices(book)
    return f"{model_version()}|{prices.change}|{prices.day}"


@cache
def model_version() -> str:
    """Return the digest of the code and of the tables that answers are worked out by."""
    package = Path(greasecheck.__file__).parent
    code = [file for room in ROOMS for file in sorted((package / room).rglob("*.py"))]
    tables = sorted(data_folder("calibration").glob("*.csv"))
    content = b"".join(file.read_bytes() for file in (*code, *tables))
    return hashlib.sha256(content).hexdigest()[:16]
