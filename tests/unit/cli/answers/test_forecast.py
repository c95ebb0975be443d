"""The forecast command on a logbook, run as a user would."""

from __future__ import annotations

import json
import re
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

import pytest
import typer
from typer.testing import CliRunner, Result

from greasecheck.cli.answers import forecast as command
from greasecheck.cli.app import CommandGroup
from greasecheck.logbook.readings.readings import enter_by_hand
from greasecheck.logbook.records import HandReading, Skull, SkullEvent, Tub
from greasecheck.logbook.skulls.skulls import enter_event, enter_skull
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub
from greasecheck.model import Recipe
from greasecheck.stages import EventKind
from tests.unit.predict.tubs import day, fading_tub

if TYPE_CHECKING:
    from pathlib import Path

NOW = day(20).isoformat()


@pytest.fixture(scope="module")
def app() -> typer.Typer:
    made = typer.Typer(cls=CommandGroup)
    command.register(made)
    made.command("other")(lambda: None)
    return made


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """Return a logbook with a deer skull in a fading tub."""
    tub, path = fading_tub(20), tmp_path / "season.logbook"
    with Logbook(path, create=True) as opened:
        enter_tub(opened, Tub(number=1, started_at=day(0)))
        for change in tub.changes:
            filling = Filling(recipe=Recipe.SOAP, temperature_c=40.0, carry_over_share=0.05)
            change_water(opened, [1], change.at, filling)
        put_in(opened, "buck", "deer", 1)
        for one in tub.readings:
            reading = HandReading(
                tub=1,
                taken_at=one.at,
                attenuation_per_m=one.attenuation_per_m,
                attenuation_std_per_m=one.std_per_m,
            )
            enter_by_hand(opened, reading)
    return path


def put_in(book: Logbook, name: str, species: str, tub: int) -> None:
    first = SkullEvent(skull=name, happened_at=day(0), kind=EventKind.ENTERED, tub=tub)
    enter_skull(book, Skull(name=name, species=species), first)


def run(app: typer.Typer, book: Path, *more: object) -> Result:
    words = ["forecast", "--logbook", str(book), "--now", NOW, *map(str, more)]
    return CliRunner().invoke(app, words)


def answer(app: typer.Typer, book: Path, *more: object) -> Any:  # noqa: ANN401 - JSON
    result = run(app, book, *more, "--json")
    assert result.exit_code == 0, result.stderr
    body = json.loads(result.stdout)
    assert body["schema"] == 1
    return body["tubs"]


def test_json_gives_quantiles_probability_and_model(app: typer.Typer, book: Path) -> None:
    (tub,) = answer(app, book, "--by", day(400).isoformat(), "--curve")
    assert tub["tub"] == 1
    times = [datetime.fromisoformat(row["at"]) for row in tub["clear_at_quantiles"]]
    assert times == sorted(times)
    assert times[0].tzinfo is not None
    assert [row["probability"] for row in tub["clear_at_intervals"]] == [0.5, 0.8, 0.9, 0.95]
    assert tub["probability_clear_now"] == 0.0
    assert tub["clear_by"]["probability"] > 0.9
    assert tub["model"] == tub["forms"][0]["form"]
    assert tub["gain_now_per_m"]["p10"] < tub["gain_now_per_m"]["p90"]
    assert len(tub["curve"]["at"]) == len(tub["curve"]["haze_p50_per_m"])
    assert tub["skulls"][0]["name"] == "buck"
    assert tub["diagnostics"]["describes_data"] is True
    assert tub["plan"]["recipe"] == "soap"


def test_odds_are_told_of_days_to_come_alone(app: typer.Typer, book: Path) -> None:
    result = run(app, book, "--by", "2020-01-01")
    assert (result.exit_code, result.stdout) == (1, "")
    assert "that day has gone by" in result.stderr


def test_words_name_three_dates_and_the_odds(app: typer.Typer, book: Path) -> None:
    result = run(app, book, "--by", day(400).isoformat())
    assert result.exit_code == 0
    assert re.search(r"tub 1: degreased \d+ [A-Z][a-z]{2} \d{4} \(1 in 2\)", result.stdout)
    assert "(8 in 10)" in result.stdout
    assert "clear now: under 1%" in result.stdout
    assert "grease left now: " in result.stdout
    lines = [line for line in result.stdout.splitlines() if not line.startswith("  note: ")]
    assert max(map(len, lines)) <= 80


def test_what_if_moves_the_dates(app: typer.Typer, book: Path) -> None:
    def median(*more: object) -> str:
        (tub,) = answer(app, book, *more)
        found: str = tub["clear_at_quantiles"][3]["at"]
        return found

    usual = median()
    assert median("--temperature-c", 50) < usual < median("--every-days", 10)
    assert median("--gain-per-m", 1.5) > usual
    assert median("--recipe", "acetone") < usual


def test_own_finished_tubs_move_the_dates(app: typer.Typer, book: Path) -> None:
    (before,) = answer(app, book)
    with Logbook(book) as opened:
        enter_tub(opened, Tub(number=2))
        for number in range(9):
            name = f"old {number}"
            start = day(0) - timedelta(days=400)
            first = SkullEvent(skull=name, happened_at=start, kind=EventKind.ENTERED, tub=2)
            enter_skull(opened, Skull(name=name, species="deer"), first)
            done = start + timedelta(days=300)
            out = SkullEvent(skull=name, happened_at=done, kind=EventKind.DEGREASED)
            enter_event(opened, out)
    (after,) = answer(app, book)
    assert after["clear_at_quantiles"][5]["at"] > before["clear_at_quantiles"][5]["at"]


def test_what_came_later_changes_no_answer_as_of_before(app: typer.Typer, book: Path) -> None:
    before = answer(app, book)
    with Logbook(book) as opened:
        change_water(opened, [1], day(25), Filling(recipe=Recipe.ACETONE))
        enter_tub(opened, Tub(number=2))
        put_in(opened, "doe", "deer", 2)
        for name in ("buck", "doe"):
            out = SkullEvent(skull=name, happened_at=day(30), kind=EventKind.DEGREASED)
            enter_event(opened, out)
    assert answer(app, book, 1) == before


def test_several_tubs_and_skulls_are_kept_apart(app: typer.Typer, book: Path) -> None:
    with Logbook(book) as opened:
        put_in(opened, "doe", "deer", 1)
        enter_tub(opened, Tub(number=3))
        change_water(opened, [3], day(0), Filling(recipe=Recipe.SOAP))
        put_in(opened, "mink", "mink", 3)
    deer, mink = answer(app, book)
    assert (deer["tub"], mink["tub"]) == (1, 3)
    assert mink["diagnostics"]["readings_used"] == 0
    assert [skull["told_apart"] for skull in deer["skulls"]] == [False, False]
    assert "  buck (deer): degreased " in run(app, book).stdout
    assert [tub["tub"] for tub in answer(app, book, "3")] == [3]
    unknown = run(app, book, "3-4")
    assert unknown.exit_code == 1
    assert "there is no tub 4" in unknown.stderr
