"""In the list of skulls what is due comes first, then what has a day, then the rest."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import pytest

from greasecheck.answers import Finding, Task
from greasecheck.garage.milestones import SkullLife
from greasecheck.garage.soaks.answers import standing_briefs
from greasecheck.live.skulls.skull_views import _due_first, _is_due
from greasecheck.predict.advice.stage import SkullStage
from greasecheck.stages import Stage

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook

NOW = datetime(2026, 3, 1, 18, tzinfo=UTC)


def life(name: str, stage: Stage, in_days: float | None, *, done: bool = False) -> SkullLife:
    at = None if in_days is None else NOW + timedelta(days=in_days)
    return SkullLife(
        name=name,
        owner=None,
        stage=SkullStage(stage=stage, since=NOW, done=done, next_at=at, promise_at=None),
    )


@pytest.mark.parametrize(
    ("stage", "in_days", "done", "is_due"),
    [
        (Stage.SOAKING, 0.0, False, False),  # its 9-in-10 date alone takes no skull out
        (Stage.SOAKING, None, True, True),
        (Stage.RINSING, -1.0, False, True),
        (Stage.RINSING, 0.0, False, True),
        (Stage.RINSING, 1.0, False, False),
        (Stage.RETURNED, -3.0, False, True),  # to be looked at again
        (Stage.ENTERED, None, False, False),
        (Stage.FOLLOWED_UP, None, False, False),
    ],
)
def test_a_soaking_skull_is_due_once_done_another_on_its_day(
    stage: Stage, in_days: float | None, *, done: bool, is_due: bool
) -> None:
    assert _is_due(NOW, life("fox", stage, in_days, done=done)) is is_due


def test_what_is_due_longest_comes_first_and_what_has_no_day_last() -> None:
    lives = [
        life("ermine", Stage.ENTERED, None),
        life("late", Stage.RINSING, 9.0),
        life("soon", Stage.RINSING, 2.0),
        life("due", Stage.RINSING, -1.0),
        life("overdue", Stage.RETURNED, -8.0),
        life("badger", Stage.ENTERED, None),
    ]
    order = [one.name for one in sorted(lives, key=lambda one: _due_first(NOW, {}, one))]
    assert order == ["overdue", "due", "soon", "late", "badger", "ermine"]
    asked = {"ermine": Task(finding=Finding.LEAVE_WATER, skull="ermine")}
    order = [one.name for one in sorted(lives, key=lambda one: _due_first(NOW, asked, one))]
    assert order == ["overdue", "due", "ermine", "soon", "late", "badger"]


def test_an_answer_that_an_entry_has_overtaken_is_not_shown(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    answers = {
        12: SimpleNamespace(brief="of before", overtaken=True),
        14: SimpleNamespace(brief="of now", overtaken=False),
    }
    monkeypatch.setattr("greasecheck.garage.soaks.answers.kept_answers", lambda *_: answers)
    book = cast("Logbook", SimpleNamespace())
    kept = standing_briefs(book, [12, 14], NOW)
    assert list(kept) == [14]
    assert kept[14] is answers[14].brief
