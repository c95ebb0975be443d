from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from greasecheck.predict.advice.stage import Milestone, skull_stage
from greasecheck.stages import Stage

START = datetime(2026, 3, 1, 18, tzinfo=UTC)
LIFE = (
    Stage.SOAKING,
    Stage.DEGREASED,
    Stage.WHITENED,
    Stage.RINSING,
    Stage.DRIED,
    Stage.RETURNED,
    Stage.FOLLOWED_UP,
)


def day(number: float) -> datetime:
    return START + timedelta(days=number)


def lived(stages: tuple[Stage, ...]) -> tuple[Milestone, ...]:
    return tuple(Milestone(stage=stage, at=day(10 * n)) for n, stage in enumerate(stages))


def test_a_skull_with_only_a_name_waits_for_a_tub() -> None:
    found = skull_stage((), START)
    assert (found.stage, found.since, found.promise_at) == (Stage.ENTERED, None, None)


@pytest.mark.parametrize("count", range(1, len(LIFE) + 1))
def test_it_stands_at_the_last_stage_it_reached(count: int) -> None:
    found = skull_stage(lived(LIFE)[:count][::-1], day(100))
    assert found.stage is LIFE[count - 1]
    assert found.since == day(10 * (count - 1))
    assert found.is_finished == (found.stage is Stage.FOLLOWED_UP)


def test_what_lies_ahead_is_not_looked_at() -> None:
    assert skull_stage(lived(LIFE), day(15)).stage is Stage.DEGREASED


# whitening 12 to 24 hours, resoaking about two weeks: common practice, no source;
# drying a week: no source
@pytest.mark.parametrize(
    ("count", "now", "days_left"),
    [(2, 12, 1 + 14 + 7), (3, 22, 14 + 7), (4, 35, 30 + 14 + 7 - 35), (4, 90, 0), (5, 45, 0)],
)
def test_the_promise_adds_what_is_left_to_do(count: int, now: float, days_left: float) -> None:
    promise = skull_stage(lived(LIFE[:count]), day(now)).promise_at
    assert promise == day(now + days_left)


def test_a_soaking_skull_is_promised_from_its_clear_date() -> None:
    entered = lived(LIFE[:1])
    assert skull_stage(entered, day(5)).promise_at is None
    assert skull_stage(entered, day(5), surely_degreased_at=day(50)).promise_at == day(50 + 22)
    assert skull_stage(entered, day(60), surely_degreased_at=day(50)).promise_at == day(60 + 22)
    assert skull_stage(entered, day(5), surely_degreased_at=day(50)).next_at == day(50)
    assert skull_stage(entered, day(60), surely_degreased_at=day(50)).next_at == day(60)


def test_a_skull_that_is_done_comes_out_today() -> None:
    soaking, dried = lived(LIFE[:1]), lived(LIFE[:5])
    found = skull_stage(soaking, day(50), surely_degreased_at=day(40), done=True)
    assert found.done
    assert found.next_at == day(50)
    assert skull_stage(dried, day(50), done=True) == skull_stage(dried, day(50))


def test_next_steps_have_their_day() -> None:
    assert skull_stage(lived(LIFE[:4]), day(31)).next_at == day(30 + 14)
    assert skull_stage(lived(LIFE), day(90)).next_at is None


@pytest.mark.parametrize(
    ("before", "returned", "due"),
    [
        (((Stage.SOAKING, 0), (Stage.WHITENED, 20)), 24, 20 + 30),
        (((Stage.SOAKING, 0), (Stage.WHITENED, 20), (Stage.WHITENED, 30)), 34, 30 + 30),
        (((Stage.SOAKING, 0), (Stage.WHITENED, 20)), 75, 75),
        (((Stage.SOAKING, 0), (Stage.DEGREASED, 20)), 24, 24 + 30),
        (((Stage.WHITENED, 0), (Stage.SOAKING, 10), (Stage.DEGREASED, 20)), 24, 24 + 30),
    ],
)
def test_yellowing_is_looked_for_from_the_whitening_on_as_the_risk_counts(
    before: tuple[tuple[Stage, int], ...], returned: int, due: int
) -> None:
    life = (*before, (Stage.RETURNED, returned))
    reached = [Milestone(stage=stage, at=day(at)) for stage, at in life]
    assert skull_stage(reached, day(100)).next_at == day(due)


def test_a_skull_out_of_hands_is_promised_no_more() -> None:
    assert skull_stage(lived(LIFE[:6]), day(70)).promise_at is None
