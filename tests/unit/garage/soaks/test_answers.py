"""Kept answers: what an entry makes stale, and that keeping changes nothing but time."""

from __future__ import annotations

import shutil
import threading
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from greasecheck.garage.kept_list import kept_list
from greasecheck.garage.soaks import answers as kept
from greasecheck.garage.soaks import refresh
from greasecheck.garage.soaks.answers import Brief, KeptBrief, kept_answers
from greasecheck.garage.soaks.coding import from_json, to_json
from greasecheck.garage.soaks.refresh import advice_of_tubs, refresh_answers
from greasecheck.garage.tub_advice import planned_tubs
from greasecheck.logbook.answers import KeptAnswer, claim, keep_answer
from greasecheck.logbook.csv.read import import_tables
from greasecheck.logbook.readings.corrections import mark_wrong
from greasecheck.logbook.readings.readings import find_reading
from greasecheck.logbook.records import BathTemperature, ToppedUp, Tub
from greasecheck.logbook.settings import Setting, put_settings
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.tables import TABLES
from greasecheck.logbook.undo import last_entry, undo
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub
from greasecheck.logbook.water.between import enter_temperature, enter_top_up
from greasecheck.model.verdicts import ChangeVerdict, StallVerdict
from greasecheck.predict.advice.change_interval import DUE_WITHIN
from greasecheck.predict.advice.decisions import advise
from greasecheck.predict.records import ClearRule, Plan
from tests.benchmarks import logbook_scale

if TYPE_CHECKING:
    from collections.abc import Iterator

TUBS, SEASON_DAYS = range(13, 16), 40
NOW = datetime.now(UTC)
# Rows that no answer rests on: refused photos, and what is said of skulls for after their soak.
NOT_ASKED = {"attempts", "follow_ups", "promises"}

BRIEF = Brief(
    clear_at=(None, None, None),
    probability_clear_now=0.5,
    change=ChangeVerdict.WAIT,
    stall=StallVerdict.STEADY,
    stall_began_at=None,
    stall_causes=(),
    skulls=(),
)


@pytest.fixture(scope="module", name="season")
def fixture_season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the logbook of three tubs that soak one skull each since weeks."""
    folder = tmp_path_factory.mktemp("season")
    logbook_scale.write_season(folder, SEASON_DAYS, TUBS)
    path = folder / "season.logbook"
    with Logbook(path, create=True) as found:
        import_tables(found, [folder])
    return path


@pytest.fixture(scope="module", name="answered_season")
def fixture_answered_season(season: Path) -> Path:
    path = Path(shutil.copy(season, season.with_name("answered.logbook")))
    with Logbook(path) as found:
        assert refreshed(found) == list(TUBS)
    return path


@pytest.fixture
def book(season: Path, tmp_path: Path) -> Iterator[Logbook]:
    with Logbook(Path(shutil.copy(season, tmp_path / "season.logbook"))) as found:
        yield found


@pytest.fixture
def answered(answered_season: Path, tmp_path: Path) -> Iterator[Logbook]:
    """Open a copy of the season whose answers are kept."""
    with Logbook(Path(shutil.copy(answered_season, tmp_path / "season.logbook"))) as found:
        yield found


@pytest.fixture
def worked_out(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    made: list[str] = []

    def counted(*args: Any, **options: Any) -> object:  # noqa: ANN401 - passed on
        made.append("advice")
        return advise(*args, **options)

    monkeypatch.setattr(refresh, "advise", counted)
    return made


def stale(book: Logbook, now: datetime = NOW) -> set[int]:
    return {tub for tub, answer in kept_answers(book, TUBS, now).items() if answer.stale}


def refreshed(book: Logbook, now: datetime = NOW) -> list[int]:
    return [one.tub for one in refresh_answers(book, TUBS, now)]


def test_an_entry_makes_the_answer_of_its_tub_stale_and_no_other(
    answered: Logbook, worked_out: list[str]
) -> None:
    assert stale(answered) == set()
    change_water(answered, [14], NOW - timedelta(seconds=5), Filling())
    assert stale(answered) == {14}
    mark_wrong(answered, find_reading(answered, 13).key)
    assert stale(answered) == {13, 14}
    refreshed(answered)
    assert stale(answered) == set()
    assert len(worked_out) == 2


@pytest.mark.parametrize(
    ("part", "other"),
    [
        ("stall_causes", "causes_of_an_older_version"),
        ("greasecheck.garage.soaks.answers:Brief", "greasecheck.garage.soaks.answers:Gone"),
        ("greasecheck.garage.soaks.answers:Brief", "greasecheck.garage.gone:Brief"),
    ],
)
def test_what_another_version_kept_in_another_form_is_worked_out_anew(
    book: Logbook, part: str, other: str
) -> None:
    empty = KeptBrief(brief=BRIEF, fault=None)
    text = to_json(empty)
    assert part in text
    for tub, brief in ((13, text), (14, text.replace(part, other))):
        answer = KeptAnswer(tub=tub, key="old", made_at=NOW, good_until=NOW, brief=brief)
        keep_answer(book, answer, None)
    assert set(kept_answers(book, TUBS, NOW)) == {13}


def test_what_is_entered_between_changes_makes_its_tub_stale(answered: Logbook) -> None:
    book = answered
    at = NOW - timedelta(seconds=5)
    enter_temperature(book, BathTemperature(tub=13, at=at, temperature_c=33.0))
    assert stale(book) == {13}
    enter_top_up(book, ToppedUp(tub=14, at=at, litres=3.0))
    assert stale(book) == {13, 14}
    refreshed(book)
    assert stale(book) == set()
    last = last_entry(book)
    assert last is not None
    undo(book, last)
    assert stale(book) == {14}


def test_an_answer_as_of_an_earlier_time_is_shown_though_not_kept(answered: Logbook) -> None:
    earlier = NOW - timedelta(days=3)
    assert [one.is_current for one in kept_list(answered, earlier).tubs] == [False, False, False]
    made = list(refresh_answers(answered, TUBS, earlier))
    shown = kept_list(answered, earlier, made).tubs
    assert [(one.is_current, one.made_at) for one in shown] == 3 * [(True, earlier)]
    assert stale(answered) == set()


def test_an_entry_taken_back_makes_its_tub_stale(book: Logbook) -> None:
    change_water(book, [14], NOW - timedelta(seconds=5), Filling())
    list(refresh_answers(book, [14], NOW))
    last = last_entry(book)
    assert last is not None
    undo(book, last)
    assert stale(book) == {14}


def test_kept_advice_is_the_advice(book: Logbook, worked_out: list[str]) -> None:
    first = dict(advice_of_tubs(book, TUBS, NOW))
    again = dict(advice_of_tubs(book, TUBS, NOW))
    assert len(worked_out) == len(TUBS)
    with book.transaction() as connection:
        connection.execute("DELETE FROM kept_answers")
    anew = dict(advice_of_tubs(book, TUBS, NOW))
    for tub in TUBS:
        advices = [advice for advice in (first[tub], again[tub], anew[tub]) if advice is not None]
        assert len(advices) == 3
        assert len({to_json(replace(advice, fit=None)) for advice in advices}) == 1
    brief = kept_answers(book, [13], NOW)[13].brief
    assert brief is not None
    assert first[13] is not None
    dates = first[13].runs_clear
    assert brief.clear_at[1] == (dates and dates.quantile(0.5))
    assert (brief.withheld is None) is (dates is not None)


def test_an_answer_ages(answered: Logbook) -> None:
    answer = kept_answers(answered, [13], NOW)[13]
    assert answer.age(NOW + timedelta(hours=2)) // timedelta(minutes=1) == 120
    assert stale(answered, NOW + refresh.SERVES_FOR + timedelta(minutes=1)) == set(TUBS)
    assert stale(answered, NOW - timedelta(days=1)) == set(TUBS)


@pytest.fixture
def asked(answered_season: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """What advice rests on beside the tub's story; it is to wait with the water for some hours."""
    with Logbook(answered_season) as answered:
        [(_, advice)] = advice_of_tubs(answered, [13], NOW)
    assert advice is not None
    due = NOW + DUE_WITHIN + timedelta(hours=2)
    change = replace(advice.change, verdict=ChangeVerdict.WAIT, due_at=due)
    given: dict[str, Any] = {}

    def advised(*_: object, **options: object) -> object:
        given.update(options)
        return replace(advice, change=change)

    monkeypatch.setattr(refresh, "advise", advised)
    return given


def test_a_change_that_falls_due_ends_an_answer(book: Logbook, asked: dict[str, Any]) -> None:
    assert [one.tub for one in refresh_answers(book, [13], NOW)] == [13]
    assert stale(book, NOW + timedelta(hours=1.9)) == set()
    assert stale(book, NOW + timedelta(hours=2.1)) == {13}


def test_advice_knows_own_prices_and_what_was_found_well(
    book: Logbook, asked: dict[str, Any]
) -> None:
    found_at = NOW.replace(microsecond=0) - timedelta(hours=3)
    enter_tub(book, Tub(number=13, checked_at=found_at))
    put_settings(book, {Setting.CHANGE_PRICE: "7.5", Setting.DAY_PRICE: "0.25"})
    assert [one.tub for one in refresh_answers(book, [13], NOW)] == [13]
    assert asked["checked_at"] == found_at
    assert (asked["cost"].change, asked["cost"].day) == (7.5, 0.25)


def test_another_model_asks_again(answered: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept, "answers_version", lambda _: "the next release")
    assert stale(answered) == set(TUBS)


def test_what_leaves_out_later_entries_is_not_kept(book: Logbook) -> None:
    earlier = NOW - timedelta(days=9)
    assert refreshed(book, earlier) == list(TUBS)
    assert kept_answers(book, TUBS, earlier) == {}


def test_two_at_once_work_an_answer_out_once(book: Logbook, worked_out: list[str]) -> None:
    def other() -> None:
        with Logbook(book.path) as second:
            refreshed(second)

    threads = [threading.Thread(target=other) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(worked_out) == len(TUBS)


def test_the_claim_of_a_killed_process_lapses(
    book: Logbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("greasecheck.logbook.answers.CLAIM_LASTS", timedelta(seconds=-2))
    assert claim(book, 13)
    assert refreshed(book) == list(TUBS)


def test_answers_under_a_plan_are_not_kept(book: Logbook) -> None:
    list(planned_tubs(book, [13], NOW, Plan(change_interval_days=3.0), ClearRule()))
    assert kept_answers(book, TUBS, NOW) == {}


def test_every_table_about_tubs_or_skulls_counts_its_changes(book: Logbook) -> None:
    watched = {
        table: {event for event in ("INSERT", "UPDATE", "DELETE") if f"AFTER {event}" in sql}
        for table in {table.name for table in TABLES}
        for sql in [" ".join(row[0] for row in book.rows(
            "SELECT sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = ?", (table,)
        ))]
    }  # fmt: skip
    for table in TABLES:
        if {"tub", "skull"} & set(table.names) and table.name not in NOT_ASKED:
            assert watched[table.name] == {"INSERT", "UPDATE", "DELETE"}, table.name


def test_no_stranger_is_made_from_a_logbook() -> None:
    with pytest.raises(ValueError, match="no record"):
        from_json('{"is": "subprocess:Popen", "fields": [["args", "true"]]}')
    with pytest.raises(ValueError, match="no record"):
        from_json('{"is": "greasecheck.errors:GreasecheckError", "fields": []}')
    with pytest.raises(TypeError):
        to_json({"a": 1})


def test_arrays_and_times_come_back_exactly() -> None:
    value = (np.linspace(0, 1, 7).reshape(7, 1), NOW, timedelta(days=1.5), float("inf"), None)
    back = from_json(to_json(value))
    assert np.array_equal(back[0], value[0])
    assert back[1:] == value[1:]
