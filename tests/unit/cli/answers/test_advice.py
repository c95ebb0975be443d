from __future__ import annotations

import json
import re
import shutil
import time
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import pytest
import typer
from icalendar import Calendar
from typer.testing import CliRunner

from greasecheck.cli.answers import calendar
from greasecheck.cli.answers.advice_json import advice_json
from greasecheck.cli.answers.tub_lines import photo_lines
from greasecheck.cli.app import CommandGroup
from greasecheck.cli.entries import skulls, tubs
from greasecheck.cli.photos import readings as log_readings
from greasecheck.cli.setup import guide
from greasecheck.cli.shared.logbook_options import open_logbook
from greasecheck.garage import tub_advice
from greasecheck.garage.soaks.refresh import advice_of_tubs
from greasecheck.model.verdicts import DoneVerdict

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

app = typer.Typer(cls=CommandGroup)
for commands in (tubs, skulls, log_readings, guide, calendar):
    commands.register(app)

NOW = "--now 2025-03-22"
DAYS = 20


@pytest.fixture(scope="module")
def made_season(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Tub 12 with a soaking deer skull, tub 13 empty, and skulls at later stages."""
    path = tmp_path_factory.mktemp("advice") / "season.logbook"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("GREASECHECK_LOGBOOK", str(path))
        patch.setenv("TZ", "UTC")
        time.tzset()
        run("tub 12 --volume 30")
        run("tub 13 --new")
        run("skull buck --species deer --tub 12 --owner Ida --at 2025-03-01")
        for day in range(DAYS):
            if day % 3 == 0:
                run(f"change 12 --recipe soap --temperature 40 --at 2025-03-{day + 1:02d}T08:00")
            haze = 1.5 + sum(10 * 0.5 ** (d / 20) for d in range(day - day % 3, day + 1))
            run(
                f"reading add 12 --haze {haze:.2f} --std 0.3 --yellowness {40 - day / 4}"
                f" --at 2025-03-{day + 1:02d}T20:00"
            )
        run("skull doe --species deer --tub 13 --at 2025-01-01")
        run("skull doe degreased --at 2025-03-01")
        run("skull doe whitened --strength 12 --hours 24 --at 2025-03-03")
        run("skull doe resoaked --tub 13 --at 2025-03-04")
        run("skull hare --species rabbit")
        yield path
    time.tzset()


@pytest.fixture(autouse=True)
def season(made_season: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Let each test have its own copy."""
    path = tmp_path / "season.logbook"
    shutil.copy(made_season, path)
    monkeypatch.setenv("GREASECHECK_LOGBOOK", str(path))
    return path


def run(line: str) -> str:
    result = CliRunner().invoke(app, line.split(), catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.stdout


def answer(line: str) -> dict[str, Any]:
    body: dict[str, Any] = json.loads(run(f"{line} --json"))
    assert body["schema"] == 1
    return body


def test_a_tub_in_words_names_the_answer_and_its_reasons() -> None:
    said = run(f"tub 12 {NOW}")
    assert said.startswith("Tub 12: degreased about ")
    assert "degreased about" in said
    assert "in it: buck" in said
    assert "pace: " in said
    assert run(f"tub 13 {NOW}").startswith("Enter what bath tub 13 holds.")


def test_a_tub_as_json_reckons_with_the_prices_that_are_set() -> None:
    run("setup --change-price 0 --day-price 5")
    first = answer(f"tub 12 {NOW}")["advice"]
    assert first["change"]["cost"] == {"soap": 0.0, "heat": 0.0, "work": 0.0, "day": 5.0}
    assert first["change"]["best_interval_days"] == 1.0
    assert first["change"]["verdict"] == "change today"
    assert first["stall"]["verdict"] == "steady"
    (skull,) = first["skulls"]
    assert skull["bone"]["looks"] == DAYS
    assert skull["bone"]["slope_per_week"] == pytest.approx(-7 / 4)
    assert answer(f"tub 13 {NOW}")["advice"]["change"] is None


def test_the_tubs_volume_sets_the_cost_of_a_change() -> None:
    found = answer(f"tub 12 {NOW}")["advice"]
    # 30 L of soap bath: 0.3 L of soap at 4 each
    assert found["change"]["cost"]["soap"] == pytest.approx(1.2)


def test_a_skull_says_what_is_next_and_what_can_be_promised() -> None:
    said = run(f"skull buck {NOW}")
    assert "buck: soaking since 1 Mar 2025" in said
    assert re.search("next: soak until .* no paler, 9 times in 10 by .* 2025", said)
    assert re.search("can be promised to Ida for .* 2025", said)
    said = run(f"skull doe {NOW}")
    assert "doe: soaking after whitening since 4 Mar 2025" in said
    # two weeks of soaking and one of drying from 4 March
    assert "can be promised for 25 Mar 2025 (9 in 10)" in said
    assert "hare: entered\n  next: put it into a tub" in run(f"skull hare {NOW}")


def test_the_promise_of_a_soaking_skull_follows_its_sure_date() -> None:
    found = answer(f"tub 12 {NOW}")["advice"]
    life = answer(f"skull buck {NOW}")
    assert life["skull"]["owner"] == "Ida"
    assert life["stage"]["next_at"] == found["surely_degreased_at"]
    assert life["stage"]["promise_at"] > found["surely_degreased_at"]


def test_an_unknown_skull_is_refused() -> None:
    result = CliRunner().invoke(app, ["skull", "nobody", "dried"])
    assert result.exit_code == 1
    assert "no skull is called 'nobody'" in result.stderr


def test_the_calendar_holds_changes_steps_and_promises(tmp_path: Path) -> None:
    file = tmp_path / "season.ics"
    listed = answer(f"calendar {file} --weeks 2 {NOW}")["entries"]
    events = Calendar.from_ical(file.read_bytes()).walk("VEVENT")
    assert [str(event["summary"]) for event in events] == [entry["title"] for entry in listed]
    titles = {entry["title"] for entry in listed}
    assert {"Change the water of tub 12", "buck ready for Ida", "doe ready"} <= titles
    changes = [entry["day"] for entry in listed if "Change" in entry["title"]]
    assert changes == sorted(changes)
    assert all("2025-03-22" <= day <= "2025-04-05" for day in changes)
    assert "entries are in" in run(f"calendar {file} {NOW}")


def test_a_skull_that_soaks_on_for_its_patches_is_shown(
    season: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tub_advice, "newest_bone_photo", lambda *_: "photos/7.jpg")
    with open_logbook(season) as book:
        ((tub, one),) = advice_of_tubs(book, [12], datetime(2025, 3, 22, tzinfo=UTC))
        assert one is not None
        assert tub_advice.patch_photos(book, tub, one) == ()
        patchy = tuple(replace(skull, verdict=DoneVerdict.YELLOW_PATCHES) for skull in one.skulls)
        photos = tub_advice.patch_photos(book, tub, replace(one, skulls=patchy))
    assert list(photo_lines(photos)) == [
        "  see where buck is yellow: greasecheck read --no-log --overlay found/ photos/7.jpg"
    ]
    assert advice_json(tub, one, photos)["yellow_patch_photos"] == [
        {"skull": "buck", "path": "photos/7.jpg"}
    ]
