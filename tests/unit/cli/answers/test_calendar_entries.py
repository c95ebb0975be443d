"""What a calendar is told of a tub's water and of a skull."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np
import pytest
from typer.testing import CliRunner

from greasecheck.cli.answers.calendar import change_entries, skull_entries
from greasecheck.cli.app import app
from greasecheck.garage.milestones import SkullLife
from greasecheck.model.reasons import ReasonCode
from greasecheck.model.verdicts import ChangeVerdict
from greasecheck.predict.advice.decisions import TubAdvice
from greasecheck.predict.advice.stage import SkullStage
from greasecheck.predict.forecast_records import ClearDates
from greasecheck.stages import Stage
from greasecheck.words.times import day_words
from tests.unit.report import season_samples as samples

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.logbook.store.book import Logbook

NOW = samples.NOW


def advice(*, withheld: bool = False) -> TubAdvice:
    """Changes every 5 days from day 22 on, the skull degreased on day 40 with 9 in 10."""
    told = samples.advice()
    return replace(
        told,
        change=replace(
            told.change,
            verdict=ChangeVerdict.WAIT,
            due_at=samples.at(22),
            best_interval_days=5.0,
        ),
        skulls=tuple(
            replace(one, withheld=ReasonCode.SLOW if withheld else None) for one in told.skulls
        ),
        forecast=replace(
            told.forecast,
            degreased=ClearDates(origin=samples.START, days=np.linspace(30.0, 41.25, 10001)),
        ),
    )


def days(told: TubAdvice, until: float) -> list[float]:
    """Return on which days since the start of the samples the water is to be changed."""
    start = samples.START.astimezone().date()
    return [(one.day - start).days for one in change_entries(12, "shed", told, samples.at(until))]


def test_changes_end_when_the_skulls_are_surely_degreased_or_with_the_weeks_asked_for() -> None:
    assert days(advice(), 100) == [22, 27, 32, 37]
    assert days(advice(), 32) == [22, 27, 32]
    assert days(advice(withheld=True), 50) == [22, 27, 32, 37, 42, 47]


def test_water_that_stays_in_has_no_changes() -> None:
    told = advice()
    left = replace(told, change=replace(told.change, verdict=ChangeVerdict.ENOUGH))
    assert days(left, 100) == []


@pytest.mark.parametrize(("weeks", "changes"), [(1, [22, 27]), (2, [22, 27, 32])])
def test_weeks_ahead_are_weeks(
    book: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, weeks: int, changes: list[int]
) -> None:
    told = advice(withheld=True)
    monkeypatch.setattr("greasecheck.garage.skull_stages.advice_for", lambda *_: {12: told})
    file = tmp_path / "season.ics"
    options = ("--weeks", str(weeks), "--now", NOW.isoformat(), "--logbook", str(book.path))
    result = CliRunner().invoke(app, ["calendar", str(file), *options, "--json"])
    assert result.exit_code == 0, result.output
    start = samples.START.astimezone().date()
    found = [date.fromisoformat(one["day"]) - start for one in json.loads(result.stdout)["entries"]]
    assert [one.days for one in found] == changes


def test_an_entry_is_known_by_its_number_and_says_how_often() -> None:
    entries = list(change_entries(12, "shed", advice(), samples.at(32)))
    assert [one.key for one in entries] == [f"tub 12 change {number}" for number in (1, 2, 3)]
    assert {one.title for one in entries} == {"Change the water of tub 12 (shed)"}
    made = day_words(advice().forecast.made_at)
    assert {one.note for one in entries} == {
        f"every 5 days, by what was known on {made}; a calendar written later moves it"
    }


def test_a_step_that_is_overdue_stands_today_and_a_promise_on_its_day() -> None:
    stage = SkullStage(
        stage=Stage.DEGREASED,
        since=NOW - timedelta(days=9),
        done=False,
        next_at=NOW - timedelta(days=3),
        promise_at=NOW + timedelta(days=22),
    )
    life = SkullLife(name="mink 2", owner="Ann", stage=stage)
    step, promise = skull_entries(life, NOW)
    assert (step.key, step.title) == ("skull mink 2 next", "mink 2: whiten it")
    assert step.day == NOW.astimezone().date()
    assert (promise.key, promise.title) == ("skull mink 2 promised", "mink 2 ready for Ann")
    assert promise.day == (NOW + timedelta(days=22)).astimezone().date()
    ahead = replace(stage, next_at=NOW + timedelta(days=3), promise_at=None)
    [later] = skull_entries(replace(life, stage=ahead), NOW)
    assert later.day == (NOW + timedelta(days=3)).astimezone().date()


def test_the_day_on_which_a_soak_is_surely_over_says_so() -> None:
    stage = SkullStage(
        stage=Stage.SOAKING,
        since=NOW - timedelta(days=90),
        done=False,
        next_at=NOW + timedelta(days=3),
        promise_at=None,
    )
    [soak] = skull_entries(SkullLife(name="deer 2", owner=None, stage=stage), NOW)
    assert soak.title == "deer 2: degreased by now 9 times in 10"
    [out] = skull_entries(
        SkullLife(name="deer 2", owner=None, stage=replace(stage, done=True)), NOW
    )
    assert out.title == "deer 2: take it out"


@pytest.mark.usefixtures("twelve_hours_ahead")
def test_days_are_those_of_this_computers_zone() -> None:
    evening = datetime(2026, 7, 4, 21, tzinfo=UTC)  # the morning of the 5th there
    stage = SkullStage(
        stage=Stage.DEGREASED, since=NOW, done=False, next_at=evening, promise_at=evening
    )
    life = SkullLife(name="mink 2", owner="Ann", stage=stage)
    told = advice()
    due = replace(told, change=replace(told.change, due_at=evening))
    late = replace(
        due,
        forecast=replace(
            due.forecast, degreased=ClearDates(origin=evening, days=np.array([2.0, 2.0]))
        ),
    )
    entries = [
        *skull_entries(life, NOW),
        *change_entries(12, "shed", late, evening + timedelta(hours=1)),
    ]
    assert [one.day for one in entries] == [date(2026, 7, 5)] * 3
