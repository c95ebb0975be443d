"""Every face shows the same dates, and where they are withheld the same reason."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

import pytest

from greasecheck.garage.promises import skull_dates
from greasecheck.garage.season.page import gather_season
from greasecheck.live.tubs.weighing import weigh
from greasecheck.logbook.readings.readings import enter_by_hand
from greasecheck.logbook.records import HandReading, Skull, SkullEvent, Tub
from greasecheck.logbook.skulls.skulls import enter_skull, list_skulls
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub
from greasecheck.model import Recipe
from greasecheck.report.charts.registry import Part
from greasecheck.stages import EventKind
from greasecheck.words.times import day_words
from tests.unit.cli.photos.test_read import run
from tests.unit.predict.tubs import day, fading_tub

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.predict.records import TubHistory

DAYS = 75
NOW = day(DAYS)
SLOW, BONE, COLD = (
    "no date: its grease comes out too slowly",
    "no date: the bone says not yet",
    "no date: nobody has seen its water warm lately",
)
TUBS = {
    1: (fading_tub(DAYS, half_life=40.0), None),
    2: (fading_tub(DAYS, broken=(20, DAYS), share=0.12), SLOW),
    3: (fading_tub(DAYS, half_life=9.0), BONE),
    4: (fading_tub(DAYS, half_life=9.0), COLD),
}
PALING = {3}
SPECIES = {1: "deer", 2: "deer", 3: "deer", 4: "mink"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Faces:
    """What is said of each tub, by its number: a date as text, or why there is none."""

    forecast: dict[int, str]
    tub: dict[int, str]
    skull: dict[int, str]
    today: dict[int, str]


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a logbook of four tubs: sound, gone cold, quiet against the bone, quiet and unseen."""
    path = tmp_path_factory.mktemp("faces") / "season.logbook"
    with Logbook(path, create=True) as book:
        for number, (tub, _) in TUBS.items():
            enter(book, number, tub)
    return path


def enter(book: Logbook, number: int, tub: TubHistory) -> None:
    enter_tub(book, Tub(number=number, started_at=day(0)))
    first = SkullEvent(
        skull=f"skull {number}", happened_at=day(0), kind=EventKind.ENTERED, tub=number
    )
    enter_skull(book, Skull(name=f"skull {number}", species=SPECIES[number]), first)
    for change in tub.changes:
        change_water(book, [number], change.at, Filling(recipe=Recipe.SOAP, temperature_c=40.0))
    for count, one in enumerate(tub.readings):
        paled = 90.0 - count if number in PALING else None
        reading = HandReading(
            tub=number,
            taken_at=one.at,
            attenuation_per_m=one.attenuation_per_m,
            attenuation_std_per_m=one.std_per_m,
            bone_yi_e313=paled,
            bone_yi_std=None if paled is None else 1.0,
        )
        enter_by_hand(book, reading)


def said(path: Path, *words: object) -> Any:  # noqa: ANN401 - JSON
    result = run(*words, "--logbook", path, "--now", NOW.isoformat(), "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def middle(dates: dict[str, Any]) -> str | None:
    found: list[str | None]
    found = [one["at"] for one in dates["quantiles"] if one["probability"] == 0.5]
    return found[0]


@pytest.fixture(scope="module")
def faces(path: Path) -> Faces:
    forecasts = {one["tub"]: one for one in said(path, "forecast")["tubs"]}
    tubs = {number: said(path, "tub", number)["advice"] for number in TUBS}
    skulls = {number: said(path, "skull", f"skull {number}")["stage"] for number in TUBS}
    today = {one["tub"]["number"]: one["answer"] for one in said(path, "today", "--fresh")["tubs"]}
    return Faces(
        forecast={n: middle(one["degreased"]) or one["no_date"] for n, one in forecasts.items()},
        tub={n: one["degreased_at"] or one["no_date"] for n, one in tubs.items()},
        skull={n: one["promise_at"] or one["no_date"] for n, one in skulls.items()},
        today={n: one["date"] or one["no_date"] for n, one in today.items()},
    )


def test_the_forecast_names_a_date_or_why_there_is_none(faces: Faces) -> None:
    withheld = {number: why for number, (_, why) in TUBS.items() if why}
    assert {n: faces.forecast[n] for n in withheld} == withheld
    assert datetime.fromisoformat(faces.forecast[1]) > NOW


def test_forecast_tub_and_list_say_the_same(faces: Faces) -> None:
    assert faces.forecast == faces.tub == faces.today
    assert {n: faces.skull[n] for n in (2, 3, 4)} == {n: faces.tub[n] for n in (2, 3, 4)}
    assert datetime.fromisoformat(faces.skull[1]) > datetime.fromisoformat(faces.tub[1])


def test_every_date_of_a_withheld_forecast_is_null(path: Path) -> None:
    for one in said(path, "forecast", 2, 3, 4, "--by", "2027-01-01")["tubs"]:
        [skull] = one["skulls"]
        for dates in (one["degreased"], one["runs_clear"], skull["degreased"]):
            assert {row["at"] for row in dates["quantiles"]} == {None}
            assert {row["latest"] for row in dates["intervals"]} == {None}
        assert {row["at"] for row in one["clear_at_quantiles"]} == {None}
        assert one["degreased_by"]["probability"] is None
        assert skull["no_date"] == one["no_date"]


def test_another_plan_brings_no_date_back(path: Path) -> None:
    [told] = said(path, "forecast", 3, "--every-days", 5)["tubs"]
    assert (middle(told["degreased"]), told["no_date"]) == (None, BONE)
    assert told["plan"]["change_interval_days"] == 5


def test_words_at_the_terminal_name_no_other_day(path: Path) -> None:
    for number, (_, why) in TUBS.items():
        for words in (["forecast", number], ["tub", number], ["skull", f"skull {number}"]):
            told = run(*words, "--logbook", path, "--now", NOW.isoformat()).stdout
            assert (why in told) if why else "no date" not in told
            assert ("in 2)" in told or "9 in 10)" in told) is (why is None)


def test_calendar_and_promises_hold_the_dates_that_stand(path: Path, faces: Faces) -> None:
    entries = said(path, "calendar", path.with_suffix(".ics"))["entries"]
    changes = [one for one in entries if " change " in one["key"]]
    assert changes
    assert all(one["note"].startswith("every ") for one in changes)
    promised = {one["key"]: one["day"] for one in entries if one["key"].endswith("promised")}
    ready = datetime.fromisoformat(faces.skull[1]).astimezone().date()
    assert promised == {"skull skull 1 promised": ready.isoformat()}
    with Logbook(path) as book:
        dates = {n: skull_dates(book, f"skull {n}", NOW) for n in TUBS}
    assert [n for n, one in dates.items() if one is not None] == [1]
    stands = dates[1]
    assert stands is not None
    told = stands.quantile(0.5)
    assert told is not None
    assert told.isoformat() == faces.tub[1]


def test_season_and_phone_show_the_same(path: Path, faces: Faces) -> None:
    with Logbook(path) as book:
        season = gather_season(book, NOW)
        assert len(list_skulls(book)) == len(TUBS)
    rows = {row.name: row.promise for row in season.skulls}
    sound = day_words(datetime.fromisoformat(faces.skull[1]))
    assert rows == {f"skull {n}": why or sound for n, (_, why) in TUBS.items()}
    [chart] = season.charts[Part.TUBS]
    assert all(f"Tub {n}: {why}." in chart.words for n, (_, why) in TUBS.items() if why)
    assert "Tub 1:" not in chart.words
    for card in season.tubs:
        why = TUBS[card.answer.tub][1]
        assert any(chart.name == f"clear-{card.answer.tub}" for chart in card.charts) is (
            why is None
        )
        [fact] = [one for one in card.facts if one.name == "Water runs clear"]
        assert fact.value == (why or "only after it is degreased")
        phone = weigh(path, card.answer.tub, NOW + timedelta(minutes=1))
        assert phone.answer.rest == card.answer.rest
        assert set(phone.dates) == (set() if why else {"skull 1"})
