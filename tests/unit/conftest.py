"""An empty logbook, for tests that fill it in their own way."""

from __future__ import annotations

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
