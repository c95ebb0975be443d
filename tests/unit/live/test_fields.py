"""Times that a tap names are of this computer's zone and never to come."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from greasecheck.live import fields
from greasecheck.live.fields import time_in

if TYPE_CHECKING:
    from collections.abc import Iterator


@pytest.fixture
def auckland(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Set this computer's zone to 12 hours ahead of UTC, its clock to 9 in the morning there."""

    class Clock(datetime):
        @classmethod
        def now(cls, tz: object = None) -> Clock:
            assert tz is UTC
            return cls(2026, 7, 4, 21, 0, tzinfo=UTC)

    monkeypatch.setenv("TZ", "<+12>-12")
    time.tzset()
    monkeypatch.setattr(fields, "datetime", Clock)
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.parametrize(
    ("tapped", "utc"),
    [
        ({}, "2026-07-04T21:00"),
        ({"when": "now"}, "2026-07-04T21:00"),
        ({"when": "morning"}, "2026-07-04T20:00"),  # at 8, an hour ago
        ({"when": "noon"}, "2026-07-04T21:00"),  # is still to come
        ({"when": "yesterday"}, "2026-07-04T06:00"),  # at 18
        ({"when": "at", "at": "2026-07-05T07:30"}, "2026-07-04T19:30"),
    ],
)
def test_a_tap_names_a_time_of_this_computer_s_zone(
    auckland: None, tapped: dict[str, str], utc: str
) -> None:
    assert time_in(tapped).isoformat(timespec="minutes") == f"{utc}+00:00"
