from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from greasecheck.logbook.records import Tub
from greasecheck.logbook.water.baths import enter_tub
from tests.skull_log import soak

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook


@pytest.fixture
def season(book: Logbook) -> Logbook:
    """Return a logbook of two tubs with a fox in one of them."""
    for number in (12, 14):
        enter_tub(book, Tub(number=number))
    soak(book, "fox", 12)
    return book
