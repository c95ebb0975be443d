"""The first page answers at once; the weighing comes when it is done."""

from __future__ import annotations

import logging
import re
from concurrent.futures import Executor, Future
from concurrent.futures.process import BrokenProcessPool
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import partial
from typing import TYPE_CHECKING, Any

import pytest
from typer.testing import CliRunner

from greasecheck.answers import Finding
from greasecheck.cli.app import app
from greasecheck.cli.entries import skulls
from greasecheck.garage.soaks.answers import Answer, kept_answers, standing_briefs
from greasecheck.garage.soaks.refresh import refresh_answers
from greasecheck.live.skulls import skull_views
from greasecheck.live.tubs.weighing import FAILED, STALE, Weigher, weigh
from greasecheck.logbook.records import Skull, SkullEvent
from greasecheck.logbook.skulls.skulls import enter_skull
from greasecheck.logbook.skulls.stays import soaking
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.today import garage_today, logbook_mark
from greasecheck.model.reasons import ReasonCode
from greasecheck.model.verdicts import DoneVerdict, StallVerdict
from greasecheck.stages import EventKind
from greasecheck.words.times import age, moment
from tests.unit.live.phones import AtOnce, Later, Phone, begin_season, make_phone
from tests.unit.live.test_water import betray_a_change

if TYPE_CHECKING:
    from collections.abc import Callable, Collection
    from pathlib import Path

    from greasecheck.logbook.today import TubToday

NOW = datetime(2026, 3, 4, 18, 5).astimezone()


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    path = tmp_path / "season.logbook"
    begin_season(path, datetime.now(UTC) - timedelta(days=5))
    return path


def look(logbook: Path, at: datetime | None = None) -> tuple[tuple[TubToday, ...], Any]:
    with Logbook(logbook) as book:
        return garage_today(book, at or datetime.now(UTC)), logbook_mark(book)


def test_the_page_does_not_wait_for_the_weighing(logbook: Path, tmp_path: Path) -> None:
    later = Later()
    phone = make_phone(tmp_path, make_executor=lambda: later)
    page = phone.get("/").text
    assert "2 of 2 tubs are being worked out" in page
    assert "photo please" in page
    assert "degreased about" not in page
    assert phone.get("/weighed").json == {"being_weighed": 2}
    assert len(later.waiting) == 2
    later.work()
    assert phone.get("/weighed").json == {"being_weighed": 0}
    page = phone.get("/").text
    assert re.search("degreased about [^<]*times in 10", phone.get("/tubs/12").text)
    assert "being worked out" not in page.split("<script")[0]


def test_skulls_pages_begin_what_they_say_is_being_worked_out(
    logbook: Path, tmp_path: Path
) -> None:
    with Logbook(logbook) as book:
        name = next(stay.skull for stay in soaking(book) if stay.tub == 12)
    for page in ("/skulls", f"/skull?name={name}"):
        later = Later()
        phone = make_phone(tmp_path, make_executor=partial(next, iter([later])))
        assert 'id="weighing"' in phone.get(page).text
        assert len(later.waiting) == 2
        later.work()
        assert 'id="weighing"' not in phone.get(page).text


def test_a_tub_is_weighed_once_where_that_settles_a_change_that_nobody_entered(
    logbook: Path, tmp_path: Path
) -> None:
    """What the readings alone call a change the fit calls none, or one of another size."""
    later = Later()
    phone = make_phone(tmp_path, make_executor=lambda: later)
    betray_a_change(phone)
    before, _ = look(logbook)
    phone.get("/")
    later.work()
    after, _ = look(logbook)
    assert before[0].unentered != after[0].unentered
    assert phone.get("/weighed").json == {"being_weighed": 0}


def test_a_change_sends_its_own_tub_back_to_the_scales(logbook: Path, tmp_path: Path) -> None:
    later = Later()
    phone = make_phone(tmp_path, make_executor=lambda: later)
    phone.get("/")
    later.work()
    phone.post("/tubs/12/changed")
    page = phone.get("/").text
    assert "1 of 2 tubs is being worked out" in page
    assert "change today" not in page
    assert [job[0].done() for job in later.waiting] == [False, False]
    later.work()
    assert phone.get("/weighed").json == {"being_weighed": 0}


def test_kept_answers_are_said_to_be_worked_out_until_they_are_renewed(
    logbook: Path, tmp_path: Path
) -> None:
    now = datetime.now(UTC)
    with Logbook(logbook) as book:
        assert len(list(refresh_answers(book, [12], now - timedelta(hours=14)))) == 1
    later = Later()
    phone = make_phone(tmp_path, make_executor=lambda: later)
    assert "(being worked out)" in phone.get("/").text
    assert "(being worked out; this is from 14 h ago)" in phone.get("/tubs/12").text
    later.work()
    assert "(being worked out" not in phone.get("/").text + phone.get("/tubs/12").text


def test_a_tub_that_was_looked_at_is_said_to_be_worked_out(logbook: Path, tmp_path: Path) -> None:
    with Logbook(logbook) as book:
        list(refresh_answers(book, [12], datetime.now(UTC)))
    later = Later()
    phone = make_phone(tmp_path, make_executor=lambda: later)
    assert "(being worked out" not in phone.get("/tubs/12").text
    phone.post("/tubs/12/checked")
    assert "(being worked out; this is from just now)" in phone.get("/tubs/12").text
    later.work()
    phone.get("/")
    later.work()
    assert "(being worked out" not in phone.get("/tubs/12").text


def test_a_fresh_answer_serves_at_once_after_a_restart(logbook: Path, tmp_path: Path) -> None:
    with Logbook(logbook) as book:
        list(refresh_answers(book, [12], datetime.now(UTC)))
    page = make_phone(tmp_path, make_executor=Later).get("/tubs/12").text
    assert "degreased about" in page
    assert "(being worked out" not in page


def test_of_an_overtaken_answer_the_date_alone_is_shown(tmp_path: Path) -> None:
    phone = make_phone(tmp_path, make_executor=Later)
    long_ago = datetime.now(UTC) - timedelta(days=60)
    begin_season(phone.settings.logbook, long_ago, long_ago)
    with Logbook(phone.settings.logbook) as book:
        list(refresh_answers(book, [12], datetime.now(UTC)))
    assert "change today" in phone.get("/").text
    phone.post("/tubs/12/changed")
    page = phone.get("/").text
    assert "change today" not in page
    assert "(being worked out)" in page


@pytest.mark.parametrize(
    ("verdict", "words"),
    [
        (DoneVerdict.PROVE, "leave its water a week or two"),
        (DoneVerdict.PROVE_APART, "prove fox 3 in its own tub"),
        (DoneVerdict.LOOK_AT_BONE, "bone photo please"),
        (DoneVerdict.MEASURE_WARMTH, "how warm is it?"),
    ],
)
def test_the_list_of_skulls_says_what_the_advice_about_a_tub_asks_for(
    logbook: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    verdict: DoneVerdict,
    words: str,
) -> None:
    now = datetime.now(UTC)
    with Logbook(logbook) as book:
        list(refresh_answers(book, [12], now))
        [brief] = standing_briefs(book, [12], now).values()
    assert brief is not None
    asked = replace(brief, skulls=(replace(brief.skulls[0], verdict=verdict),))
    for views in (skull_views, skulls):
        monkeypatch.setattr(views, "standing_briefs", lambda *_: {12: asked})
    page = make_phone(tmp_path, make_executor=Later).get("/skulls").text
    assert f"<strong>{words}</strong>" in page
    listed = CliRunner().invoke(app, ["skull", "--logbook", str(logbook)])
    assert f": {words}\n" in listed.stdout


def test_the_list_of_skulls_marks_what_is_wrong_with_their_tub(
    logbook: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = datetime.now(UTC)
    with Logbook(logbook) as book:
        list(refresh_answers(book, [12], now))
        [brief] = standing_briefs(book, [12], now).values()
    assert brief is not None
    stalled = replace(brief, stall=StallVerdict.STALLED, stall_causes=(ReasonCode.HEATER,))
    asked = replace(brief.skulls[0], verdict=DoneVerdict.LOOK_AT_BONE)
    for views in (skull_views, skulls):
        monkeypatch.setattr(
            views, "standing_briefs", lambda *_: {12: replace(stalled, skulls=(asked,))}
        )
    page = make_phone(tmp_path, make_executor=Later).get("/skulls").text
    assert re.search(r'class="answer trouble".*fox 3.*<strong>look at the heater</strong>', page)
    listed = CliRunner().invoke(app, ["skull", "--logbook", str(logbook)])
    assert ": look at the heater\n" in listed.stdout


def test_the_list_of_skulls_says_that_a_change_of_their_tub_is_not_entered(
    logbook: Path, tmp_path: Path
) -> None:
    betray_a_change(make_phone(tmp_path, make_executor=Later))
    page = make_phone(tmp_path, make_executor=Later).get("/skulls").text
    assert "<strong>changed? yes or no</strong>" in page
    listed = CliRunner().invoke(app, ["skull", "--logbook", str(logbook)])
    assert ": changed? yes or no\n" in listed.stdout


def test_a_skull_that_is_done_is_taken_out_on_its_own_page_too(
    logbook: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def with_done(book: Logbook, tubs: Collection[int], now: datetime) -> dict[int, Answer]:
        [(tub, kept)] = kept_answers(book, tubs, now).items()
        assert kept.brief is not None
        [fox] = kept.brief.skulls
        done = replace(fox, verdict=DoneVerdict.DONE, withheld=None)
        return {tub: replace(kept, brief=replace(kept.brief, skulls=(done,)))}

    with Logbook(logbook) as book:
        list(refresh_answers(book, [12], datetime.now(UTC)))
    phone = make_phone(tmp_path, make_executor=Later)
    assert "Next: soak until" in phone.get("/skull?name=fox+3").text
    assert "<strong>ready by " in phone.get("/skulls").text
    monkeypatch.setattr(skull_views, "kept_answers", with_done)
    monkeypatch.setattr("greasecheck.garage.soaks.answers.kept_answers", with_done)
    assert "Next: take it out" in phone.get("/skull?name=fox+3").text
    assert "<strong>take it out</strong>" in phone.get("/skulls").text
    phone.post("/tubs/12/changed")
    assert "Next: soak until" in phone.get("/skull?name=fox+3").text


def test_an_empty_logbook_says_how_to_begin(tmp_path: Path) -> None:
    phone = make_phone(tmp_path)
    Logbook(phone.settings.logbook, create=True).close()
    assert phone.get("/").location == "/setup"
    page = phone.get("/setup").text
    assert "How will you measure?" in page
    assert "Leave it for now" in page


def test_a_skull_that_waits_outside_a_bath_is_on_the_list(phone: Phone) -> None:
    long_ago = datetime.now(UTC) - timedelta(days=60)
    with Logbook(phone.settings.logbook) as book:
        done = SkullEvent(skull="vixen", happened_at=long_ago, kind=EventKind.DEGREASED)
        enter_skull(book, Skull(name="vixen", species="fox"), done)
    page = phone.get("/").text
    assert "vixen" in page
    assert "whiten it" in page


def test_readings_are_shown_with_their_errors(phone: Phone) -> None:
    betray_a_change(phone)
    page = phone.get("/tubs/12/readings").text
    assert "3.0 ± 0.3 per metre" in page
    assert "yellowness 30" in page


def test_advice_is_kept_until_something_changes(logbook: Path) -> None:
    calls: list[tuple[object, ...]] = []

    class Counting(AtOnce):
        def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:  # noqa: ANN401 - as the base
            calls.append(args)
            return super().submit(fn, *args, **kwargs)

    weigher = Weigher(logbook, Counting)
    tubs, mark = look(logbook)
    assert set(weigher.advice(tubs, mark)) == {12, 14}
    assert len(calls) == 2
    weigher.advice(tubs, mark)
    assert len(calls) == 2
    other = replace(tubs[0], rinses=True)  # as when a reading grows too old to count
    weigher.advice((other, *tubs[1:]), mark)
    assert len(calls) == 3
    later, _ = look(logbook, datetime.now(UTC) + STALE + timedelta(minutes=1))
    weigher.advice(later, mark)
    assert len(calls) == 5
    weigher.advice(later, (*mark, 1))
    assert len(calls) == 7
    weigher.close()


def test_what_runs_is_not_begun_again(logbook: Path) -> None:
    later = Later()
    weigher = Weigher(logbook, lambda: later)
    tubs, mark = look(logbook)
    for _ in range(3):
        assert weigher.advice(tubs, mark) == {}
    assert len(later.waiting) == 2
    later.waiting[0][0].cancel()
    weigher.close()
    weigher.close()


def test_a_tub_that_cannot_be_weighed_says_so_and_spoils_none(
    logbook: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def fails(path: Path, number: int, now: datetime) -> object:
        if number == 12:
            raise ZeroDivisionError
        return weigh(path, number, now)

    monkeypatch.setattr("greasecheck.live.tubs.weighing.weigh", fails)
    tubs, mark = look(logbook)
    with caplog.at_level(logging.ERROR):
        known = Weigher(logbook, AtOnce).advice(tubs, mark)
    assert known[12].answer.rest.note == FAILED
    assert known[14].answer.rest.finding is Finding.EMPTY
    assert "cannot weigh tub 12" in caplog.text


def test_a_killed_worker_is_replaced(logbook: Path) -> None:
    class Broken(Executor):
        def submit(self, *_: Any, **__: Any) -> Future[Any]:  # noqa: ANN401 - as the base
            raise BrokenProcessPool

    class Dying(Executor):
        def submit(self, *_: Any, **__: Any) -> Future[Any]:  # noqa: ANN401 - as the base
            future: Future[Any] = Future()
            future.set_exception(BrokenProcessPool())
            return future

    executors: list[Executor] = [Broken(), Dying(), AtOnce()]
    weigher = Weigher(logbook, lambda: executors.pop(0))
    tubs, mark = look(logbook)
    assert weigher.advice(tubs, mark) == {}
    assert set(weigher.advice(tubs, mark)) == {12, 14}
    assert executors == []


def test_how_a_tub_stands_decides_whether_advice_fits(logbook: Path) -> None:
    tubs, _ = look(logbook)
    weighed = weigh(logbook, 12, tubs[0].at)
    assert weighed.fits(tubs[0])
    assert weighed.fits(replace(tubs[0], at=NOW))
    assert not weighed.fits(replace(tubs[0], skulls=()))


def test_times_and_spans_in_words() -> None:
    assert moment(NOW, NOW) == "18:05"
    assert moment(NOW, NOW + timedelta(days=1)) == "4 Mar 2026, 18:05"
    assert age(timedelta(seconds=20)) == "less than a minute"
    assert age(timedelta(minutes=40)) == "40 minutes"
    assert age(timedelta(hours=3)) == "3 hours"


def test_a_tub_is_named_once_on_its_page(phone: Phone) -> None:
    page = phone.get("/tubs/12").text
    headline = page.split('class="headline">')[1].split("<")[0]
    assert "tub 12" in headline.lower()
    assert "by the door" not in headline
