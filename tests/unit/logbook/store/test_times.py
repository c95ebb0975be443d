from __future__ import annotations

from datetime import UTC, datetime

import pytest

from greasecheck.errors import LogbookError
from greasecheck.logbook.store.times import from_text, to_text


def test_a_time_without_a_zone_is_refused() -> None:
    with pytest.raises(LogbookError, match="no zone"):
        to_text(datetime(2026, 3, 1))  # noqa: DTZ001 - that is the point


def test_a_time_outside_the_calendar_is_refused() -> None:
    with pytest.raises(LogbookError, match="out of range"):
        to_text(datetime.fromisoformat("0001-01-01T00:00:00+05:00"))


def test_text_sorts_as_time_does_even_for_early_years() -> None:
    times = [datetime(999, 1, 1, tzinfo=UTC), datetime(2026, 1, 1, tzinfo=UTC)]
    texts = [to_text(time) for time in times]
    assert sorted(texts) == texts
    assert [from_text(text) for text in texts] == times
