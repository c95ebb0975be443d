from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from tests.unit.live.phones import TUB12, begin_season, make_phone

if TYPE_CHECKING:
    from pathlib import Path

    from tests.unit.live.phones import Phone


@pytest.fixture
def phone(tmp_path: Path) -> Phone:
    begin_season(tmp_path / "season.logbook", datetime.now(UTC) - timedelta(days=5))
    return make_phone(tmp_path)


@pytest.fixture(scope="session")
def tub12() -> bytes:
    """Return the content of a good photo of tub 12."""
    return TUB12.read_bytes()
