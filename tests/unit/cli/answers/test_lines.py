"""Lines at the terminal: each figure at its place, the low end of a span first."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import numpy as np
import pytest

from greasecheck.cli.answers.recipes import comparison_lines
from greasecheck.cli.answers.risk import risk_lines
from greasecheck.cli.answers.today import OLD, _rows, question_lines
from greasecheck.cli.answers.tub_lines import note_lines, tub_lines
from greasecheck.garage.answers import tub_answer
from greasecheck.garage.kept_list import GarageList
from greasecheck.garage.milestones import SkullLife
from greasecheck.garage.soaks.refresh import brief_of
from greasecheck.model import Recipe
from greasecheck.model.notes import Note, NoteCode
from greasecheck.model.reasons import ReasonCode
from greasecheck.model.recipe_ratios import RateRatio, RatioInterval, RecipeVerdict
from greasecheck.predict.advice.stage import SkullStage
from greasecheck.predict.forecast_records import ClearDates
from greasecheck.predict.recipes.records import RecipeComparison
from greasecheck.predict.yellowing.records import RiskInterval, YellowingRisk
from greasecheck.stages import Stage
from greasecheck.words.reasons import no_date_words
from greasecheck.words.times import day_words, exact
from tests.unit.report import season_samples as samples

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.garage.risk.cases import SkullCase
    from greasecheck.logbook.today import TubToday
    from greasecheck.predict.advice.decisions import TubAdvice

NOW = samples.NOW
TENTHS = np.linspace(0.1, 1.0, 10)


def advice(*, withheld: ReasonCode | None = None, clear_days: float = 100.0) -> TubAdvice:
    """Degreased within 10 days and clear within some, each day as likely."""
    told = samples.advice()
    found = replace(
        told.forecast,
        dates=ClearDates(origin=NOW, days=clear_days * TENTHS),
        degreased=ClearDates(origin=NOW, days=10 * TENTHS),
    )
    return replace(told, forecast=found, skulls=(replace(told.skulls[0], withheld=withheld),))


def lines(
    today: TubToday, told: TubAdvice | None = None, lives: Sequence[SkullLife] = ()
) -> list[str]:
    answer = tub_answer(today, brief_of(told) if told else None, made_at=NOW)
    return list(tub_lines(today, answer, told, lives, NOW))


def days(*after: float) -> list[str]:
    return [day_words(NOW + timedelta(days=one)) for one in after]


def test_a_date_stands_with_its_early_and_its_late_end() -> None:
    early, middle, late = days(1, 5, 9)
    shown = lines(samples.today(haze=samples.logged()), advice())
    assert f"  degreased {middle} (1 in 2); {early} to {late} (8 in 10)" in shown


@pytest.mark.parametrize(("clear_days", "after"), [(100.0, True), (1.0, False)])
def test_water_that_runs_clear_last_has_no_date_of_its_own(clear_days: float, after: bool) -> None:
    shown = lines(samples.today(haze=samples.logged()), advice(clear_days=clear_days))
    (line,) = [one for one in shown if one.startswith("  runs clear")]
    assert line.startswith("  runs clear only after that") is after


def test_why_there_is_no_date_is_said() -> None:
    shown = lines(samples.today(haze=samples.logged()), advice(withheld=ReasonCode.SLOW))
    words = no_date_words(ReasonCode.SLOW)
    assert f"  degreased, runs clear: {words}" in shown
    assert not [line for line in shown if line.startswith("  degreased ")]


def test_water_that_may_have_been_changed_has_two_ages() -> None:
    (line,) = [line for line in lines(samples.today(probable=True)) if "  water: soap" in line]
    assert line == "  water: soap at 40 °C, 4 days old as entered, 9 days or more if it was changed"


@pytest.mark.parametrize(("ready_at", "sure"), [(NOW + timedelta(days=30), True), (None, False)])
def test_a_promise_of_a_skull_says_how_sure_it_is(ready_at: datetime | None, sure: bool) -> None:
    stage = SkullStage(
        stage=Stage.SOAKING, since=NOW, done=False, next_at=None, promise_at=ready_at
    )
    life = SkullLife(name="fox", owner=None, stage=stage)
    (line,) = [
        one for one in lines(samples.today(), lives=[life]) if one.startswith("  in it: fox")
    ]
    assert line.endswith(", 9 times in 10") is sure


def test_a_change_that_nobody_entered_is_denied_for_the_middle_of_its_span() -> None:
    times = (NOW, NOW + timedelta(hours=6))
    *_, line = note_lines(12, [Note(code=NoteCode.UNLOGGED_CHANGE, times=times)])
    assert line.endswith(f"change 12 --not-changed --at '{exact(NOW + timedelta(hours=3))}'")


def test_a_row_tells_how_old_its_reading_is_and_whether_its_answer_is() -> None:
    today = samples.today(haze=samples.logged(day=18))
    answer = tub_answer(today, brief_of(advice()), made_at=NOW)
    for is_current in (True, False):
        shown = replace(answer, is_current=is_current)
        (row,) = _rows(GarageList(tubs=(shown,), steps=(), today=(today,)), NOW)
        assert row.endswith("read 2 d ago")
        assert (OLD in row) is not is_current


def test_questions_are_numbered_from_one_with_the_haze_before_and_after() -> None:
    (line,) = question_lines((samples.today(), samples.today(probable=True)))
    assert line.startswith("question 1: was the water of tub 12 changed")
    assert "fell from 20 to 3 /m. greasecheck answer 1 yes, or no" in line


def test_a_risk_has_its_low_end_first() -> None:
    known = SimpleNamespace(known=SimpleNamespace(name="fox"), species="fox", standing="whitened")
    span = RiskInterval(probability=0.8, low=0.1, high=0.6)
    found = YellowingRisk(probability=0.3, intervals=(span,), reasons=(), unmeasured=())
    (line,) = risk_lines(cast("SkullCase", known), found)
    assert "yellows later with 30% (8 in 10: 10% to 60%)" in line


def test_the_plain_ratio_of_recipes_stands_beside_the_adjusted_one() -> None:
    ratio = RateRatio(
        recipe=Recipe.AMMONIA,
        baseline=Recipe.SOAP,
        tubs=4,
        baseline_tubs=5,
        verdict=RecipeVerdict.FASTER,
        hindrance=None,
        ratio=1.5,
        intervals=tuple(
            RatioInterval(probability=share, low=1.5 - share / 2, high=1.5 + share)
            for share in (0.5, 0.8, 0.95)
        ),
        probability_faster=0.97,
        plain_ratio=1.25,
        more_tubs_each=0,
    )
    found = RecipeComparison(tubs=(), ratios=(ratio,), tub_scatter_log_std=0.3, notes=())
    shown = "\n".join(comparison_lines(found, []))
    assert "rate 1.50 times as fast: 1.25 to 2.00 (50%)" in shown
    assert "before adjusting 1.25 times" in shown
