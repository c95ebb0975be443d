"""The one task list: what stands on it, in which order, and in which words."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise

import pytest

from greasecheck.answers import URGENCIES, Finding, Task, TubAnswer, Urgency, due_first
from greasecheck.garage import answers as garage
from greasecheck.garage.answers import stage_tasks, tub_answer
from greasecheck.garage.milestones import SkullLife
from greasecheck.garage.soaks.refresh import brief_of
from greasecheck.logbook.today import Ask, TubToday
from greasecheck.model import Bound, Verdict
from greasecheck.model.reasons import CAUSES, Reason, ReasonCode
from greasecheck.model.verdicts import ChangeVerdict, DoneVerdict, StallVerdict
from greasecheck.predict.advice.done import BROKEN
from greasecheck.predict.advice.stage import SkullStage
from greasecheck.reference.advice import advice_value
from greasecheck.stages import Stage
from greasecheck.words.answers import SENTENCES, SHORT, sentence, short_answer, why
from tests.unit.report import season_samples as samples

NOW = samples.NOW
CALM = {
    "stall": StallVerdict.STEADY,
    "change": ChangeVerdict.WAIT,
    "done": DoneVerdict.GREASE_LEFT,
}

DATED = {DoneVerdict.GREASE_LEFT, DoneVerdict.DONE, DoneVerdict.LOOK_AT_BONE}


def answer(shown: TubToday, **verdicts: str) -> TubAnswer:
    """Return the answer about a tub whose advice has these verdicts."""
    told, said = samples.advice(), {**CALM, **verdicts}
    stands = said["done"] in DATED and said["stall"] not in BROKEN
    brief = brief_of(
        replace(
            told,
            stall=replace(
                told.stall,
                verdict=StallVerdict(said["stall"]),
                began_at=samples.at(18),
                reasons=tuple(Reason(code=code) for code in (ReasonCode.SLOW, *CAUSES)),
            ),
            change=replace(told.change, verdict=ChangeVerdict(said["change"])),
            skulls=(
                replace(
                    told.skulls[0],
                    verdict=DoneVerdict(said["done"]),
                    withheld=None if stands else ReasonCode.SLOW,
                ),
            ),
        )
    )
    return tub_answer(shown, brief, made_at=NOW)


def fresh() -> TubToday:
    return samples.today(haze=samples.logged(day=19), name=None)


def asked(shown: TubToday) -> list[Finding]:
    return [task.finding for task in tub_answer(shown, None).tasks]


def test_what_the_log_asks_for_stands_on_the_list() -> None:
    shown = samples.today(haze=samples.logged(bound=Bound.ABOVE), probable=True, refused=True)
    told = tub_answer(shown, None)
    assert asked(shown) == [Finding.CONFIRM_CHANGE, Finding.RETAKE_PHOTO, Finding.DILUTE]
    words = [sentence(task, NOW) for task in told.tasks]
    assert words[0] == f"Was the water of tub 12 ({samples.NASTY}) changed?"
    assert why(told.tasks[0], NOW).startswith("Its haze fell from 20 to 3 /m by 16 Jan")
    assert why(told.tasks[1], NOW) == "the jar is empty; fill it"


def test_a_doubtful_photo_is_asked_for_again_with_its_day() -> None:
    doubtful = replace(samples.logged(day=19), verdict=Verdict.DOUBTFUL)
    told = tub_answer(samples.today(haze=doubtful, name=None), None)
    assert sentence(told.main, NOW) == "Take the photo of tub 12 again."
    assert why(told.main, NOW) == "The last one, of 24 Jan, is doubtful."


def test_a_late_photo_is_asked_for_with_the_day_of_the_last() -> None:
    told = tub_answer(samples.today(haze=samples.logged(), name=None), None)
    assert sentence(told.main, NOW) == "Photograph the water of tub 12."
    assert why(told.main, NOW) == "The last one is of 21 Jan."


def test_a_sample_to_dilute_is_one_photo_not_two() -> None:
    murky = samples.today(haze=samples.logged(bound=Bound.ABOVE))
    assert set(murky.asks) == {Ask.DILUTE, Ask.TAKE_PHOTO}
    assert asked(murky) == [Finding.DILUTE]


def test_a_tub_without_skulls_needs_no_photo() -> None:
    idle = replace(samples.today(haze=samples.logged()), skulls=())
    assert asked(idle) == []
    assert tub_answer(idle, None).main.finding is Finding.RESTS


@pytest.mark.parametrize(
    ("days", "short", "reason"),
    [(-1, "rinses after whitening", "Until about 26 Jan."), (1, "rinsed long enough", "")],
)
def test_no_end_of_a_rinse_is_told_as_to_come_once_it_is_past(
    days: int, short: str, reason: str
) -> None:
    begun = NOW - timedelta(days=advice_value("resoak_days") + days)
    shown = replace(fresh(), rinses=True, soak_since=begun)
    told = tub_answer(shown, None)
    assert short_answer(told, NOW) == short
    assert why(told.main, NOW) == reason


@pytest.mark.parametrize(
    ("verdicts", "finding", "short"),
    [
        ({}, Finding.CLEAR_ABOUT, "degreased about"),
        ({"stall": "stalled"}, Finding.LOOK_AT_TUB, "look at the heater"),
        ({"change": "change today"}, Finding.CHANGE_WATER, "change today"),
        ({"done": DoneVerdict.DONE}, Finding.TAKE_OUT, "take out"),
        ({"done": DoneVerdict.LOOK_AT_BONE}, Finding.PHOTOGRAPH_BONE, "bone photo please"),
        ({"done": DoneVerdict.YELLOW_PATCHES}, Finding.SOAK_ON_YELLOW, "soak on: yellow patches"),
        ({"done": DoneVerdict.BONE_PALING}, Finding.SOAK_ON_PALING, "soak on: still paling"),
        ({"done": DoneVerdict.MEASURE_WARMTH}, Finding.MEASURE_WARMTH, "how warm is it?"),
        ({"done": DoneVerdict.PROVE}, Finding.LEAVE_WATER, "leave its water a week or two"),
        ({"done": DoneVerdict.PROVE_APART}, Finding.PROVE_APART, "prove "),
        ({"stall": "quickened"}, Finding.LOOK_AT_RISE, "another skull in it?"),
        (
            {"stall": "stalled", "change": "change today", "done": DoneVerdict.LOOK_AT_TUB},
            Finding.LOOK_AT_TUB,
            "look at the heater",
        ),
    ],
)
def test_there_is_one_answer_the_most_pressing(
    verdicts: dict[str, str], finding: Finding, short: str
) -> None:
    told = answer(fresh(), **verdicts)
    assert told.main.finding is finding
    assert short_answer(told, NOW).startswith(short)


@pytest.mark.parametrize(
    "done", [DoneVerdict.LOOK_AT_BONE, DoneVerdict.YELLOW_PATCHES, DoneVerdict.BONE_PALING]
)
def test_what_the_water_alone_says_is_told_as_such(done: DoneVerdict) -> None:
    told = why(answer(fresh(), done=done).main, NOW)
    assert told.startswith("The water says that little grease is left")


@pytest.mark.parametrize("done", list(DoneVerdict))
@pytest.mark.parametrize("change", list(ChangeVerdict))
@pytest.mark.parametrize("stall", list(StallVerdict))
def test_no_date_of_clear_water_stands_beside_an_answer_that_it_contradicts(
    stall: StallVerdict, change: ChangeVerdict, done: DoneVerdict
) -> None:
    told = answer(fresh(), stall=stall, change=change, done=done)
    water_is_clear = done is not DoneVerdict.GREASE_LEFT
    if water_is_clear or stall in {StallVerdict.STALLED, StallVerdict.QUICKENED}:
        assert told.date is None
        assert told.main is not told.rest
    urgencies = [list(Urgency).index(task.urgency) for task in told.tasks]
    assert all(first <= second for first, second in pairwise(urgencies))


def test_the_date_of_a_tub_is_that_of_its_skulls_not_of_its_clear_water() -> None:
    told, date = samples.advice(), answer(fresh()).rest
    assert told.degreased is not None
    assert told.runs_clear is not None
    assert date.since == told.degreased.quantile(0.5) != told.runs_clear.quantile(0.5)


def test_a_date_without_a_reading_is_called_a_guess() -> None:
    guessed = "Our guess for its species: no reading yet."
    unread = answer(replace(fresh(), haze=None), change="change today").date
    assert unread is not None
    assert guessed in why(unread, NOW)
    read = answer(fresh(), change="change today").date
    assert read is not None
    assert guessed not in why(read, NOW)


def test_clear_is_never_said_of_a_day_that_is_past() -> None:
    task = Task(finding=Finding.CLEAR_ABOUT, tub=12, since=NOW, span=(NOW, NOW))
    assert sentence(task, NOW) == "Tub 12: degreased any day now."
    later = replace(task, since=NOW + timedelta(days=30))
    assert sentence(later, NOW) == "Tub 12: degreased about 24 Feb."


def test_a_verdict_of_the_advice_has_its_finding() -> None:
    assert set(garage.SKULLS) == set(DoneVerdict) - {DoneVerdict.GREASE_LEFT}


def test_every_finding_has_words() -> None:
    by_rule = {Finding.CLEAR_ABOUT, Finding.NEXT_STEP}
    assert set(SHORT) == set(SENTENCES) == set(Finding) - by_rule
    for finding in Finding:
        task = Task(finding=finding, tub=12, skull="fox 3", stage=Stage.DRIED, since=NOW)
        words = sentence(task, NOW)
        assert words[0].isupper() or words.startswith("fox 3")
        assert words.endswith((".", "?"))
    assert set(URGENCIES) <= set(Finding)


def step(stage: Stage, due: datetime | None) -> SkullLife:
    found = SkullStage(stage=stage, since=samples.START, done=False, next_at=due, promise_at=None)
    return SkullLife(name="vixen", owner=None, stage=found)


@pytest.mark.parametrize(
    ("stage", "days", "stands"),
    [
        (Stage.RINSING, 10, True),
        (Stage.RINSING, 30, False),
        (Stage.RINSING, None, False),
        (Stage.SOAKING, 10, False),
    ],
)
def test_a_step_stands_on_the_list_once_it_is_due(
    stage: Stage, days: int | None, stands: bool
) -> None:
    due = None if days is None else samples.at(days)
    tasks = list(stage_tasks([step(stage, due)], NOW))
    assert [task.finding for task in tasks] == [Finding.NEXT_STEP] * stands
    for task in tasks:
        assert sentence(task, NOW).startswith("vixen: take it out and dry it")
        assert why(task, NOW) == "Soaking after whitening since 5 Jan 2026."


def test_what_is_due_stands_first_then_by_number() -> None:
    calm, due = answer(fresh()), answer(fresh(), change="change today")
    told = due_first((replace(calm, tub=3), replace(calm, tub=2), replace(due, tub=9)))
    assert [one.tub for one in told] == [9, 2, 3]


def test_a_bone_whose_slope_is_unsure_is_asked_for_again_and_again() -> None:
    asked = Task(finding=Finding.PHOTOGRAPH_BONE, tub=12, skull="fox")
    assert why(asked, NOW) == (
        "The water says that little grease is left; now the bone decides. Photograph it every few"
        " days until it is sure that it gets no paler."
    )
