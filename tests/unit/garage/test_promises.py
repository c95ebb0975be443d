"""Promised days: when their odds fall, today's list says so early, at the terminal and the page."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import TYPE_CHECKING

import pytest
from typer.testing import CliRunner

from greasecheck.cli.app import app
from greasecheck.garage.milestones import milestones
from greasecheck.garage.promises import (
    PromiseOdds,
    odds_by,
    offer_for,
    promise_tasks,
    skull_dates,
    standing_odds,
)
from greasecheck.garage.soaks.answers import KeptDates, kept_answers, kept_dates
from greasecheck.garage.soaks.refresh import refresh_answers
from greasecheck.logbook.records import Promise
from greasecheck.logbook.skulls.promises import enter_promise
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import Filling, change_water
from greasecheck.model import Recipe
from greasecheck.predict.advice.stage import Milestone, left_to_do
from greasecheck.stages import Stage
from tests.unit.live.phones import AtOnce, Later, begin_season, make_phone

if TYPE_CHECKING:
    from pathlib import Path

FOX = "fox 3"


def days_ago(days: float) -> datetime:
    return datetime.now(UTC) - timedelta(days=days)


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    """Let a fox, twenty days in warm soap, be promised on its second day with 9 in 10."""
    path = tmp_path / "season.logbook"
    begin_season(path, days_ago(20), days_ago(30))
    with Logbook(path) as book:
        made = days_ago(18)
        dates = skull_dates(book, FOX, made)
        assert dates is not None
        sure = dates.quantile(0.9)
        assert sure is not None
        ready_by = sure + left_to_do(Stage.SOAKING)
        odds = odds_by(ready_by, made, milestones(book, FOX), dates)
        enter_promise(
            book, Promise(skull=FOX, promised_at=made, ready_by=ready_by, probability=odds)
        )
    return path


def cool_down(logbook: Path) -> None:
    """Let the bath have been cold since a change fifteen days ago."""
    with Logbook(logbook) as book:
        change_water(book, [12], days_ago(15), Filling(recipe=Recipe.SOAP, temperature_c=8.0))


def listed(logbook: Path) -> str:
    told = CliRunner().invoke(app, ["today", "--fresh", "--logbook", str(logbook)])
    assert told.exit_code == 0, told.output
    return told.output


def test_the_terminals_list_says_early_that_the_odds_fell(logbook: Path) -> None:
    assert "may not be ready" not in listed(logbook)
    cool_down(logbook)
    [line] = [line for line in listed(logbook).splitlines() if "may not be ready" in line]
    assert line.startswith("! Fox 3 may not be ready by the day it was promised for.")
    assert "with 9 in 10 when it was promised; now with 1 in 10" in line
    with Logbook(logbook) as book:
        [one] = standing_odds(book, datetime.now(UTC))
    assert one.in_danger
    assert one.promise.ready_by > days_ago(-30), "its owner hears of it a month before"


def test_the_pages_list_says_so_at_once_and_when_it_is_worked_out(
    logbook: Path, tmp_path: Path
) -> None:
    assert "promise in danger" not in make_phone(tmp_path, make_executor=AtOnce).get("/").text
    cool_down(logbook)
    with Logbook(logbook) as book:
        list(refresh_answers(book, [12], datetime.now(UTC)))
    for executor in (Later, AtOnce):  # by what is kept, and by what was worked out
        phone = make_phone(tmp_path, make_executor=executor)
        phone.get("/")
        row = next(one for one in phone.get("/").text.split("<li>") if "promise in danger" in one)
        assert FOX in row
        assert "In danger: tell its owner early" in phone.get("/promises").text


def test_the_page_of_a_skull_names_the_day_that_the_terminal_names(
    logbook: Path, tmp_path: Path
) -> None:
    with Logbook(logbook) as book:
        list(refresh_answers(book, [12], datetime.now(UTC)))
    told = CliRunner().invoke(app, ["skull", FOX, "--logbook", str(logbook)]).stdout
    safe = re.search(r"can be promised for (.+) \(9 in 10\)", told)
    assert safe
    phone = make_phone(tmp_path, make_executor=Later)
    page = phone.get(f"/skull?name={FOX}").text
    assert f"Can be promised for <strong>{safe[1]}</strong>" in page
    day = datetime.strptime(safe[1], "%d %b %Y").astimezone().date()
    assert f'name="day" required value="{day}"' in page
    assert f"Can be promised for <strong>{safe[1]}</strong>" in phone.get("/tubs/12").text
    assert f"ready by {day.day} {day:%b}" in phone.get("/skulls").text
    phone.post("/tubs/12/changed")  # which overtakes what is kept
    assert "Can be promised" not in phone.get("/tubs/12").text
    assert "ready by" not in phone.get("/skulls").text


def test_what_is_kept_gives_the_odds_of_the_whole_answer(logbook: Path) -> None:
    now = datetime.now(UTC)
    with Logbook(logbook) as book:
        whole = skull_dates(book, FOX, now)
        kept = kept_dates(kept_answers(book, [12], now).values())[FOX]
    assert whole is not None
    days = [whole.quantile(share) for share in (0.1, 0.3, 0.5, 0.7, 0.9)]
    for day in days:
        assert day is not None
        assert kept.probability_by(day) == pytest.approx(whole.probability_by(day), abs=0.01)
    assert kept.probability_by(now) < 0.05


def test_a_promise_must_leave_the_time_for_what_is_left_to_do() -> None:
    """Whitening, resoaking and drying come after the day on which a skull is degreased."""
    now, done = days_ago(0), days_ago(-30)
    dates = KeptDates(origin=done, days=(0.0,) * 19)
    soaking = [Milestone(stage=Stage.SOAKING, at=now)]
    left, second = left_to_do(Stage.SOAKING), timedelta(seconds=1)
    assert left > timedelta(days=7)
    assert odds_by(done + left, now, soaking, dates) == pytest.approx(0.95)
    assert odds_by(done + left - second, now, soaking, dates) == 0


def test_what_is_offered_leaves_the_time_for_it_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    by_odds = {0.5: days_ago(-60), 0.9: days_ago(-90)}
    found = SimpleNamespace(degreased=SimpleNamespace(quantile=by_odds.get))
    monkeypatch.setattr("greasecheck.predict.outlook.forecasting.forecast", lambda *_, **__: found)
    with Logbook(tmp_path / "season.logbook", create=True) as book:
        offer = offer_for(book, "fox", days_ago(0))
    left = left_to_do(Stage.SOAKING)
    assert (offer.middle, offer.late) == (by_odds[0.5] + left, by_odds[0.9] + left)


@pytest.mark.parametrize(
    ("first", "now", "in_danger"),
    [
        (0.9, 0.65, True),
        (0.9, 0.75, False),  # still likely
        (0.7, 0.65, False),  # it was never much likelier
        (None, 0.65, True),
        (0.9, None, False),
    ],
)
def test_a_promise_is_in_danger_where_it_was_likely_and_is_so_no_more(
    first: float | None, now: float | None, in_danger: bool
) -> None:
    promise = Promise(skull=FOX, promised_at=days_ago(9), ready_by=days_ago(-90), probability=first)
    one = PromiseOdds(promise=promise, now=now)
    assert one.in_danger is in_danger
    known = tuple(odds for odds in (first, now) if odds is not None)
    assert [task.values for task in promise_tasks([one])] == ([known] if in_danger else [])


def test_a_skull_without_a_date_has_no_odds_kept() -> None:
    assert kept_dates([]) == {}
    none = KeptDates(origin=days_ago(0), days=(None,) * 19)
    assert none.probability_by(days_ago(-3000)) == 0.0


def test_a_skull_ready_on_the_promised_moment_keeps_the_promise() -> None:
    now = datetime(2026, 3, 1, tzinfo=UTC)
    out = [Milestone(stage=Stage.DEGREASED, at=now)]
    ready = now + left_to_do(Stage.DEGREASED)
    moment = timedelta(seconds=1)
    odds = [odds_by(by, now, out, None) for by in (ready - moment, ready, ready + moment)]
    assert odds == [0.0, 1.0, 1.0]
