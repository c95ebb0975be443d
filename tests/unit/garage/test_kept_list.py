"""The list of the garage marks what is out of date."""

from __future__ import annotations

from datetime import timedelta

import pytest

from greasecheck.garage.kept_list import kept_answer
from greasecheck.garage.soaks.answers import Answer
from greasecheck.garage.soaks.refresh import brief_of
from tests.unit.report import season_samples as samples


@pytest.mark.parametrize(
    ("stale", "overtaken", "current"),
    [(False, False, True), (True, False, False), (True, True, False)],
)
def test_an_answer_is_current_until_it_is_overtaken_or_too_old(
    stale: bool, overtaken: bool, current: bool
) -> None:
    made_at = samples.NOW - timedelta(hours=30)
    brief = brief_of(samples.advice())
    kept = Answer(tub=12, made_at=made_at, stale=stale, overtaken=overtaken, brief=brief)
    told = kept_answer(samples.today(haze=samples.logged()), kept)
    assert (told.is_current, told.made_at) == (current, made_at)


def test_what_was_never_worked_out_is_not_current() -> None:
    assert not kept_answer(samples.today(), None).is_current
    assert kept_answer(samples.today(bath=False), None).is_current
