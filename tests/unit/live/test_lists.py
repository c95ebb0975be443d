"""Lists of the live page: their order, where they end, and which picture is the newest."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any, cast

import pytest

from greasecheck.garage.answers import tub_answer
from greasecheck.garage.camera.pictures import rounds_folder
from greasecheck.garage.promises import Offer
from greasecheck.garage.soaks.refresh import brief_of
from greasecheck.live.entries import entry_views, reading_views
from greasecheck.live.entries.lines import latest_entries
from greasecheck.live.setup.setup_views import _choices
from greasecheck.live.skulls import event_views
from greasecheck.live.tubs import home_views, tub_views
from greasecheck.live.tubs.weighing import Weigher
from greasecheck.logbook.records import Tub
from greasecheck.logbook.settings import Setting
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.today import garage_today
from greasecheck.logbook.undo import take_back
from greasecheck.logbook.water.baths import enter_tub
from greasecheck.model.verdicts import ChangeVerdict
from tests.unit.live.phones import AtOnce, Later, Phone, begin_season
from tests.unit.report import season_samples as samples

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.answers import TubAnswer
    from greasecheck.live.parts import Live


@pytest.fixture
def shown(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """What a page was given to show."""
    given: dict[str, Any] = {}

    def render(_: str, **what: Any) -> str:  # noqa: ANN401 - anything may be shown
        given.update(what)
        return ""

    for views in (entry_views, home_views, reading_views, tub_views):
        monkeypatch.setattr(views, "render_template", render)
    return given


def test_entries_before_one_end_short_of_it_and_the_newest_come_first(book: Logbook) -> None:
    for number in (1, 2, 3, 4):
        enter_tub(book, Tub(number=number))
    take_back(book, 3)
    lines = [(one.number, one.taken_back) for one in latest_entries(book, 3)]
    assert lines == [(4, False), (3, True), (2, False)]
    assert [one.number for one in latest_entries(book, 2, before=3)] == [2, 1]


@pytest.mark.parametrize(("page_holds", "more"), [(3, True), (5, False)])
def test_earlier_entries_are_offered_where_there_may_be_some(
    phone: Phone, monkeypatch: pytest.MonkeyPatch, page_holds: int, more: bool
) -> None:
    monkeypatch.setattr(entry_views, "SHOWN", page_holds)  # there are four
    assert ("Earlier ones" in phone.get("/entries").text) is more


def test_a_tubs_page_ends_with_its_newest_entries(
    phone: Phone, shown: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tub_views, "MOST_ENTRIES", 2)
    with phone.app.test_request_context("/tubs/12"):
        tub_views.show_tub(phone.live, 12)
    assert [one.number for one in shown["page"].entries] == [4, 3]


@pytest.mark.parametrize(("entry", "stay"), [(3, False), (5, True)])  # a change, and a reading
def test_only_readings_stay_when_their_entry_is_taken_back(
    phone: Phone, entry: int, *, stay: bool
) -> None:
    assert phone.post("/tubs/12/reading", {"haze": "9", "std": "1"}).status_code == 303
    assert ("A reading is never deleted" in phone.get(f"/entries/{entry}").text) is stay


def test_readings_stand_the_newest_first(phone: Phone, shown: dict[str, Any]) -> None:
    for hours in (30, 10, 20):
        at = datetime.now(UTC) - timedelta(hours=hours)
        typed = {
            "haze": str(hours),
            "std": "1",
            "when": "at",
            "at": f"{at.astimezone():%Y-%m-%dT%H:%M}",
        }
        assert phone.post("/tubs/12/reading", typed).status_code == 303
    reading_views.show_readings(phone.live, 12)
    assert [one.attenuation_per_m for one in shown["readings"]] == [10.0, 20.0, 30.0]


def answer(number: int, verdict: ChangeVerdict) -> TubAnswer:
    told = samples.advice()
    brief = brief_of(replace(told, change=replace(told.change, verdict=verdict)))
    today = replace(samples.today(haze=samples.logged(day=19)), tub=Tub(number=number))
    return tub_answer(today, brief, made_at=samples.NOW)


def test_tubs_whose_water_is_due_come_first_and_ticked(
    shown: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    due = {2: True, 5: False, 7: True, 9: False}
    verdicts = {True: ChangeVerdict.CHANGE, False: ChangeVerdict.WAIT}
    tubs = tuple(answer(number, verdicts[is_due]) for number, is_due in due.items())
    today = {number: samples.today() for number in due} | {9: samples.today(bath=False)}
    page = SimpleNamespace(tubs=tubs, today=today)
    monkeypatch.setattr(home_views, "garage_answers", lambda _: page)
    home_views.show_changes(cast("Live", None))
    assert [one.tub for one in shown["tubs"]] == [2, 7, 5]
    assert shown["due"] == {2, 7}


@pytest.mark.parametrize(("camera_day", "newest"), [(20, "camera"), (14, "photo"), (None, "photo")])
def test_the_newest_picture_of_a_tub_is_shown_whoever_took_it(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    book: Logbook,
    camera_day: int | None,
    newest: str,
) -> None:
    photos, logbook = tmp_path / "photos", tmp_path / "season.logbook"
    photos.mkdir()
    for name in ("early", "late"):
        (photos / f"{name}.jpg").touch()
    readings = tuple(
        replace(samples.logged(day=day), photo_path=path)
        for day, path in ((10, "early.jpg"), (16, "late.jpg"), (18, None))
    )
    if camera_day is not None:
        rounds_folder(logbook).mkdir()
        stamp = f"{samples.at(camera_day):%Y%m%d-%H%M%S}"
        (rounds_folder(logbook) / f"newest-12-{stamp}.jpg").touch()
    live = SimpleNamespace(settings=SimpleNamespace(photos=photos, logbook=logbook))
    monkeypatch.setattr(tub_views, "list_readings", lambda *_: readings)
    found = tub_views.newest_picture(cast("Live", live), book, 12)
    assert found is not None
    assert (found.path.name == "late.jpg") is (newest == "photo")
    assert found.at == samples.at(16 if newest == "photo" else 20)


def test_what_no_known_advice_fits_is_weighed_first(tmp_path: Path) -> None:
    path = tmp_path / "season.logbook"
    begin_season(path, datetime.now(UTC) - timedelta(days=3))
    with Logbook(path) as book:
        tubs = garage_today(book, datetime.now(UTC))
    later, at_once = Later(), AtOnce()
    executors = [at_once]
    weigher = Weigher(path, lambda: executors[-1])
    weigher.advice(tubs, (1,))
    weigher._executor = later
    door, other = tubs
    stands_otherwise = replace(other, rinses=True)
    weigher.advice((door, stands_otherwise), (2,))
    assert weigher._running == {12, 14}
    order = [job() for _, job in later.waiting]
    assert [one.today.tub.number for one in order] == [14, 12]


def test_a_price_is_kept_to_the_cent() -> None:
    form = {"change_price": "2,75", "day_price": "0.05"}
    assert _choices(form) == {Setting.CHANGE_PRICE: "2.75", Setting.DAY_PRICE: "0.05"}


def test_a_tub_entered_with_its_bath_keeps_how_warm_it_is(phone: Phone) -> None:
    fields = {"number": "21", "recipe": "soap", "temperature": "38", "litres": "60"}
    assert phone.post("/setup/tub", fields).status_code == 303
    assert phone.rows("SELECT recipe, temperature_c FROM baths WHERE tub = 21") == [("soap", 38.0)]


@pytest.mark.parametrize(("species", "asked"), [("fox", ["fox"]), ("unicorn", []), ("", [])])
def test_what_to_promise_is_worked_out_for_a_species_of_the_table(
    phone: Phone, monkeypatch: pytest.MonkeyPatch, species: str, asked: list[str]
) -> None:
    seen: list[str] = []

    def offer(_: Logbook, chosen: str, __: datetime) -> Offer:
        seen.append(chosen)
        return Offer(species=chosen, middle=None, late=None, own=0)

    monkeypatch.setattr(event_views, "offer_for", offer)
    assert phone.get(f"/promises?species={species}").status_code == 200
    assert seen == asked
