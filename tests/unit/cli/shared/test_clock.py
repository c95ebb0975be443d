from __future__ import annotations

import time
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from greasecheck.cli.shared.clock import given_time, span_words
from greasecheck.errors import LogbookError
from greasecheck.live.fields import time_in
from greasecheck.words.times import day_words, exact, moment
from greasecheck.words.typed_times import end_of_day, parse_span, parse_time

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator


@pytest.fixture
def zone(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[str], None]]:
    """Give what sets this computer's zone."""

    def put(name: str) -> None:
        monkeypatch.setenv("TZ", name)
        time.tzset()

    yield put
    monkeypatch.undo()
    time.tzset()


@pytest.fixture
def oslo(zone: Callable[[str], None]) -> None:
    zone("Europe/Oslo")


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("2026-03-04 18:05", "2026-03-04T17:05:00+00:00"),
        ("2026-07-04 18:05", "2026-07-04T16:05:00+00:00"),
        ("2026-07-04", "2026-07-03T22:00:00+00:00"),
        ("2026-03-04T18:05Z", "2026-03-04T18:05:00+00:00"),
        ("2026-03-29 02:10", "2026-03-29T01:10:00+00:00"),  # left out: a clock not put forward
        ("2026-10-25 02:30", "2026-10-25T00:30:00+00:00"),  # comes twice: the first one
    ],
)
def test_times_without_a_zone_are_local(oslo: None, text: str, utc: str) -> None:
    assert parse_time(text).isoformat() == utc


def test_the_page_takes_times_as_the_terminal_does(oslo: None) -> None:
    for at in ("2026-03-29T02:10", "2026-10-25T02:30", "2026-07-04T18:05"):
        assert time_in({"when": "at", "at": at}) == parse_time(at)


def test_a_time_that_clocks_showed_twice_is_said(
    oslo: None, capsys: pytest.CaptureFixture[str]
) -> None:
    first = given_time("25.10.2026 02:30")
    assert capsys.readouterr().err == (
        "clocks showed 25 Oct 2026, 02:30 twice, and the first is taken; "
        "the second is '2026-10-25 02:30+01:00'\n"
    )
    assert given_time("2026-10-25 02:30+01:00") - first == timedelta(hours=1)
    for text in ("2026-10-25 03:00", "2026-03-29 02:10", "2026-10-25", "18:05", "3 days ago", None):
        given_time(text)
    assert capsys.readouterr().err == ""


def test_times_are_shown_local(oslo: None) -> None:
    assert exact(datetime(2026, 7, 4, 16, 5, tzinfo=UTC)) == "4 Jul 2026, 18:05"


@pytest.mark.parametrize("month", range(1, 13))
def test_a_time_is_read_as_it_is_shown(oslo: None, month: int) -> None:
    time = datetime(2026, month, 4, 16, 5, tzinfo=UTC)
    assert parse_time(exact(time)) == time
    assert day_words(parse_time(day_words(time))) == day_words(time)
    assert parse_time(day_words(time).lower()) == parse_time(f"{time.date()}")


def test_today_is_that_of_this_computer_s_zone(zone: Callable[[str], None]) -> None:
    """At any hour the day differs from that of UTC in one of two zones 26 hours apart."""
    for name in ("<-12>12", "<+14>-14"):
        zone(name)
        before = datetime.now().astimezone().date()
        days = {parse_time(text).astimezone().date() for text in ("today", "18:05", "at noon")}
        assert days <= {before, datetime.now().astimezone().date()}


def test_a_moment_is_told_in_this_computer_s_zone(zone: Callable[[str], None]) -> None:
    zone("<+13>-13")
    time, now = (datetime(2026, 3, 4, hour, 5, tzinfo=UTC) for hour in (10, 13))
    assert moment(time, now) == "4 Mar 2026, 23:05"
    assert moment(now, now) == "02:05"


def test_a_promised_day_ends_with_its_last_minute_here(oslo: None) -> None:
    assert end_of_day(date(2026, 7, 4)) == datetime(2026, 7, 4, 21, 59, tzinfo=UTC)
    assert end_of_day(date(2026, 1, 4)) == datetime(2026, 1, 4, 22, 59, tzinfo=UTC)


def test_a_time_of_day_is_of_today(oslo: None) -> None:
    assert exact(parse_time("7:05")) == f"{day_words(datetime.now(UTC))}, 07:05"


def test_a_span_ago_and_now() -> None:
    since = datetime.now(UTC) - parse_time("1d ago")
    assert abs(since - timedelta(days=1)) < timedelta(minutes=1)
    assert abs(datetime.now(UTC) - parse_time(None)) < timedelta(minutes=1)


@pytest.mark.parametrize("text", ["soon", "25:00", "2026-02-30", "x ago", "30 Feb", "4 moon"])
def test_what_is_no_time_is_told(text: str) -> None:
    with pytest.raises(LogbookError, match="is no"):
        parse_time(text)


@pytest.mark.parametrize(
    ("text", "span"),
    [
        ("1h", timedelta(hours=1)),
        ("+1d12h30m", timedelta(days=1, hours=12, minutes=30)),
        ("-2d5s", timedelta(days=-2, seconds=-5)),
    ],
)
def test_spans_are_read(text: str, span: timedelta) -> None:
    assert parse_span(text) == span


@pytest.mark.parametrize("text", ["1", "h", "1w", "", "-", "999999999999d"])
def test_what_is_no_span_is_told(text: str) -> None:
    with pytest.raises(LogbookError, match=r"no span of time|too long"):
        parse_span(text)


def test_spans_are_told_in_hours_then_days() -> None:
    assert [span_words(timedelta(hours=hours)) for hours in (1, 47, 48, 100)] == [
        "1 h",
        "47 h",
        "2 d",
        "4 d",
    ]


@pytest.mark.parametrize("text", ["31.11.2026", "2027-02-30"])
def test_a_day_that_no_calendar_has_is_told(text: str) -> None:
    with pytest.raises(LogbookError, match="or there is no such day"):
        parse_time(text)
