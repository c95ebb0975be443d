"""An empty logbook, for tests that fill it in their own way, and another zone."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import pytest

from greasecheck.logbook.store.book import Logbook

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    with Logbook(tmp_path / "season.logbook", create=True) as opened:
        yield opened


@pytest.fixture
def twelve_hours_ahead(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Set this computer's zone to 12 hours ahead of UTC."""
    if not hasattr(time, "tzset"):
        pytest.skip("the zone cannot be set there")
    monkeypatch.setenv("TZ", "<+12>-12")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()
