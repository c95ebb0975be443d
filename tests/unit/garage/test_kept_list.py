"""The list of the garage marks what is out of date."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest

from greasecheck.garage import kept_list as garage
from greasecheck.garage.kept_list import kept_answer, kept_list
from greasecheck.garage.soaks.answers import Answer
from greasecheck.garage.soaks.refresh import brief_of
from greasecheck.logbook.records import Tub
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub
from greasecheck.model import Recipe
from tests.skull_log import put_in
from tests.unit.report import season_samples as samples

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook


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


def test_a_tub_that_only_rinses_needs_nothing_worked_out() -> None:
    rinsing = replace(samples.today(), rinses=True)
    assert kept_answer(rinsing, None).is_current


def test_an_answer_of_a_later_time_is_not_shown(
    book: Logbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    enter_tub(book, Tub(number=12))
    change_water(book, [12], samples.START, Filling(recipe=Recipe.SOAP))
    put_in(book, "fox", samples.START, 12)
    later = samples.NOW + timedelta(days=2)
    kept = Answer(
        tub=12, made_at=later, stale=False, overtaken=False, brief=brief_of(samples.advice())
    )
    monkeypatch.setattr(garage, "kept_answers", lambda *_: {12: kept})
    assert kept_list(book, samples.NOW).out_of_date == (12,)
    assert kept_list(book, later).out_of_date == ()
