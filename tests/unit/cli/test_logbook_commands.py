from __future__ import annotations

import json
import shutil
import time
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import pytest
import typer
from typer.testing import CliRunner

from greasecheck.cli.answers import forecast, today
from greasecheck.cli.app import CommandGroup
from greasecheck.cli.entries import book, promises, skulls, tubs
from greasecheck.cli.photos import readings as log_readings
from greasecheck.cli.setup import guide
from greasecheck.cli.shared.logbook_options import complete_skull, complete_tub
from greasecheck.logbook.readings.photos import LogSettings, log_photos
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.tables import TABLES
from tests.logbook_samples import measure_files, write_photos

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from typer.testing import Result

app = typer.Typer(cls=CommandGroup)
for commands in (tubs, skulls, promises, log_readings, book, today, forecast, guide):
    commands.register(app)


@pytest.fixture(scope="module", autouse=True)
def greenwich() -> Iterator[None]:
    """Let local time be UTC."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TZ", "UTC")
        time.tzset()
        yield
    time.tzset()


@pytest.fixture
def path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "season.logbook"
    monkeypatch.setenv("GREASECHECK_LOGBOOK", str(path))
    monkeypatch.setenv("COLUMNS", "80")
    return path


@pytest.fixture(scope="module")
def made_season(greenwich: None, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A tub with a soaking fox whose water was changed without an entry."""
    path = tmp_path_factory.mktemp("made") / "season.logbook"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("GREASECHECK_LOGBOOK", str(path))
        run("tub 12 --name door --volume 60")
        run("change 12 --recipe soap --temperature 40 --at 2026-03-01")
        run("skull fox~3 --species fox --tub 12 --at 2026-03-01")
        for day, haze in enumerate((5, 12, 18, 3, 4), start=2):
            run(f"reading add 12 --haze {haze} --std 0.3 --yellowness 25 --at 2026-03-0{day}")
    return path


@pytest.fixture
def season(made_season: Path, path: Path) -> Path:
    shutil.copy(made_season, path)
    return path


def call(line: str) -> Result:
    words = [word.replace("~", " ") for word in line.split()]
    return CliRunner().invoke(app, words, catch_exceptions=False)


def run(line: str) -> str:
    """Run a command whose words stand apart, `~` for a space in a word; return what it said."""
    result = call(line)
    assert result.exit_code == 0, result.output
    return result.stdout


def answer(line: str) -> dict[str, Any]:
    told: dict[str, Any] = json.loads(run(line + " --json"))
    assert told.pop("schema") == 1
    return told


def test_the_first_command_makes_the_logbook(path: Path) -> None:
    assert run("tub 12 --new") == "tub 12 is entered\n"
    assert run("tub 12 --volume 60") == "noted of tub 12\n"
    assert path.exists()


@pytest.mark.parametrize(
    "line", ["today", "tub 12", "skull fox", "skull fox --species fox --tub 12"]
)
def test_looking_makes_none(path: Path, line: str) -> None:
    result = call(line)
    assert result.exit_code == 1
    assert "error[logbook]: there is no logbook" in result.stderr
    assert not path.exists()


def test_importing_what_is_not_there_makes_none(path: Path, tmp_path: Path) -> None:
    result = call(f"book import {tmp_path / 'baths.csv'}")
    assert result.exit_code == 1
    assert f"{tmp_path / 'baths.csv'}: there is no such file" in result.stderr
    assert not list(tmp_path.iterdir())


def test_an_import_that_fails_makes_none(path: Path, tmp_path: Path) -> None:
    faulty = tmp_path / "baths.csv"
    faulty.write_text("tub,filled_at,recipe\n7,2026-01-01T00:00Z,soup\n")
    assert call(f"book import {faulty}").exit_code == 1
    assert list(tmp_path.iterdir()) == [faulty]
    faulty.write_text("tub,filled_at,recipe\n7,2026-01-01T00:00Z,soap\n")
    assert "baths: 1 added" in run(f"book import {faulty}")
    assert run("book check") == "the logbook is sound\n"


@pytest.mark.parametrize(
    ("line", "problem", "hint"),
    [
        ("tub 112", "tub 112 is not in the logbook", "greasecheck tub NUMBER --volume LITRES"),
        ("tub 112 --checked now", "tub 112 is not in the logbook", "or --new"),
        ("skull foxx~3", "no skull is called 'foxx 3'", "is it one of: fox 3?"),
        ("tub 12 --new", "tub 12 is in the logbook already", "another number"),
        ("skull fox~3 --new", "skull fox 3 is in the logbook already", "another name"),
        ("tub 112 --new --temperature 40", "entries of their own", "one after the other"),
        ("skull fox~3 dried --new", "entries of their own", "one after the other"),
    ],
)
def test_a_slip_in_a_number_or_name_enters_nothing(
    season: Path, line: str, problem: str, hint: str
) -> None:
    before = answer("undo --list")
    result = call(line)
    assert result.exit_code == 1
    assert problem in result.stderr
    assert hint in result.stderr
    assert answer("undo --list") == before


def test_an_empty_list_says_how_a_tub_is_entered(path: Path) -> None:
    run("tub 12 --new")
    run("undo --yes")
    line = run("today").partition("greasecheck ")[2].partition(",")[0]
    assert run(line) == "tub 10 is entered\n"


@pytest.mark.parametrize("line", ["tub 112 --new", "tub 113 --name blue", "tub 114 --note old"])
def test_a_new_tub_is_entered_without_a_doubt(season: Path, line: str) -> None:
    entered = call(line)
    assert entered.stdout == f"tub {line.split()[1]} is entered\n"
    assert entered.stderr == ""
    run("undo --yes")
    assert call(" ".join(line.split()[:2])).exit_code == 1


@pytest.mark.parametrize("line", ["skull cub --new", "skull badger --species badger"])
def test_a_new_skull_is_entered_without_a_doubt(season: Path, line: str) -> None:
    entered = call(line)
    assert entered.stdout == f"skull {line.split()[1]} is entered\n"
    assert entered.stderr == ""


def test_a_tub_is_answered_as_json(path: Path) -> None:
    assert answer("tub 12 --volume 60 --started 2026-03-01T00:00Z") == {
        "tub": {
            "number": 12,
            "name": None,
            "volume_l": 60.0,
            "started_at": "2026-03-01T00:00:00+00:00",
            "checked_at": None,
            "note": None,
        }
    }


def test_a_tub_is_found_well_now_but_not_tomorrow(path: Path) -> None:
    checked = answer("tub 12 --new --checked now")["tub"]["checked_at"]
    assert datetime.now(UTC) - datetime.fromisoformat(checked) < timedelta(minutes=5)
    assert "lies in the future" in call("tub 12 --checked 2999-01-01").stderr


def test_an_unknown_species_is_pointed_out_with_those_like_it(path: Path) -> None:
    said = call("skull brock --species bagder")
    assert "no 'bagder'; is it one of: badger," in said.stderr
    assert "120 to 210 days" in said.stderr
    assert "is it one of" not in call("skull smaug --species dragon").stderr
    assert answer("skull okapi --species okapi")["species_known"] is False
    assert call("skull reynard --species Fox").stderr == ""
    assert skulls.complete_species("wil") == ["wild boar"]


@pytest.mark.parametrize("command", ["forecast 12"])
def test_a_tub_that_is_not_there_is_an_error(season: Path, command: str) -> None:
    assert "there is no tub 99" in call(f"{command} 99").stderr


def test_a_tub_without_a_tag_is_pointed_out(path: Path) -> None:
    assert "no tag is printed for tub 900" in call("tub 900 --new").stderr
    assert "no tag" not in call("tub 13 --new").stderr


def test_water_is_changed_in_one_several_or_all_tubs(season: Path) -> None:
    run("tub 14 --new")
    assert len(answer("change 12 14 --recipe ammonia")["baths"]) == 2
    filled = run("change 14 --recipe soap --at 2026-04-01")
    assert filled.startswith("tub 14: soap, filled 1 Apr 2026")
    told = answer("change --all --at 1m~ago")["baths"]
    assert [(bath["tub"], bath["recipe"]) for bath in told] == [(12, "soap"), (14, "soap")]


def test_a_change_entered_for_the_wrong_time_is_corrected_and_taken_back(season: Path) -> None:
    run("change 12 --at 2026-03-05T18:00")
    line = "change 12 --at 2026-03-04T12:00 --instead-of 2026-03-05 --temperature 42"
    assert run(line) == "tub 12: soap at 42 °C, filled 4 Mar 2026, 12:00\n"
    assert "question" not in run("today --now 2026-03-07")
    taken = call("change 12 --at 2026-03-01 --instead-of 2026-03-04")
    assert "already has a water change" in taken.stderr
    run("undo --yes")
    assert "question 1: was the water of tub 12" in run("today --now 2026-03-07")
    again = call("change 12 --at 2026-03-01 --instead-of 2026-03-01 --temperature 38")
    assert again.stdout == "tub 12: soap at 38 °C, filled 1 Mar 2026, 00:00\n"
    assert again.stderr == ""
    far = call("change 12 --at 2026-03-02 --instead-of 2026-03-22")
    assert "no change was entered for about 22 Mar 2026; that of 5 Mar 2026 is corrected" in (
        far.stderr
    )


def test_what_cannot_be_corrected_is_told(season: Path) -> None:
    run("tub 14 --new")
    several = call("change 12 14 --at 2026-03-04 --instead-of 2026-03-01")
    assert "corrects one tub's change" in several.stderr
    none = call("change 14 --at 2026-03-04 --instead-of 2026-03-01")
    assert "tub 14 has no water change" in none.stderr
    run("change 12 --empty --at 2026-03-06T12:00")
    late = call("change 12 --at 2026-03-07 --instead-of 2026-03-01")
    assert "was emptied before that" in late.stderr
    ahead = call("change 12 --at 2999-03-07 --instead-of 2026-03-01")
    assert "lies in the future" in ahead.stderr


def test_what_happened_to_a_skull_is_corrected_and_taken_back(season: Path) -> None:
    run("skull fox~3 degreased --at 2026-03-06")
    run("skull fox~3 degreased --at 2026-03-05 --instead-of 2026-03-06")
    assert " 5 Mar 2026, 00:00  degreased" in run("skull fox~3")
    assert "5 Mar 2026" not in run("skull fox~3 --now 2026-03-04")
    run("undo --yes")
    assert " 6 Mar 2026, 00:00  degreased" in run("skull fox~3")
    moved = call("skull fox~3 entered --tub 12 --at 2026-02-27 --instead-of 2026-03-01")
    assert moved.stdout.startswith("skull fox 3: entered, tub 12, 27 Feb 2026")
    none = call("skull fox~3 whitened --at 2026-03-08 --instead-of 2026-03-07")
    assert "has no entry 'whitened'" in none.stderr


@pytest.mark.parametrize("line", ["change", "change 12 --all", "change x", "change 14-12"])
def test_a_change_must_name_its_tubs(season: Path, line: str) -> None:
    assert call(line).exit_code == 1


def test_all_tubs_are_none_when_none_holds_a_bath(path: Path) -> None:
    run("tub 12 --new")
    assert "no tub holds a bath" in call("change --all").stderr


def test_a_tub_is_dumped(season: Path) -> None:
    assert "emptied: tub 12" in run("change 12 --empty")
    assert answer("today")["tubs"][0]["bath"] is None
    run("change 12 --at 1m~ago")
    assert answer("change --all --empty")["tubs"] == [12]


def test_a_question_is_numbered_and_answered_with_yes(season: Path) -> None:
    asked = run("today --now 2026-03-07")
    assert "question 1: was the water of tub 12 changed between 4 Mar 2026 and 5 Mar" in asked
    assert "greasecheck answer 1 yes, or no" in asked
    assert answer("answer 1 yes --now 2026-03-07")["baths"][0]["filled_at"].startswith(
        "2026-03-04T12:00:00"
    )
    assert "question" not in run("today --now 2026-03-07")
    assert "there is no question 1" in call("answer 1 yes --now 2026-03-07").stderr


def test_a_question_is_answered_with_no(season: Path) -> None:
    denied = run("answer 1 no --now 2026-03-07")
    assert denied == "tub 12: no change from 4 Mar 2026, 00:00 to 5 Mar 2026, 00:00\n"
    assert "question" not in run("today --now 2026-03-07")
    run("undo --yes")
    assert answer("answer 1 no --now 2026-03-07")["denied"]["tub"] == 12
    assert "there is no question 2" in call("answer 2 no --now 2026-03-07").stderr


def test_a_change_of_long_ago_is_denied_by_its_time(season: Path) -> None:
    assert "goes with --at" in call("change 12 --not-changed").stderr
    told = answer("change 12 --not-changed --at 2026-03-04T12:00Z")
    assert told["denied"]["earliest"].startswith("2026-03-04T00:00")
    assert "question" not in run("today --now 2026-03-07")


def test_today_gives_one_answer_a_tub_within_80_columns_what_is_due_first(season: Path) -> None:
    run("tub 14 --name far~behind~the~old~shelf")
    run("change 14 --recipe soap+ammonia --at 2026-03-02")
    run("skull mink --species mink --tub 14 --at 2026-03-02")
    run("reading add 14 --haze 70 --std 0 --bound above --at 2026-03-06")
    run("reading add 10 --haze 1 --std 0 --bound below --at 2026-03-06")
    lines = run("today --now 2026-03-07").splitlines()
    assert max(map(len, lines[:3])) <= 80
    assert [line.split()[1] for line in lines[:3]] == ["10", "12", "14"]
    assert lines[0].split()[2:7] == ["what", "bath", "is", "in", "it?"]
    assert "changed? yes or no" in lines[1]
    assert "too murky: dilute" in lines[2]
    assert lines[2].endswith(" read 24 h ago")
    run("tub 15 --new")
    assert "  not read yet\n" in run("today --now 2026-03-07")


def test_many_tubs_out_of_date_are_counted(season: Path) -> None:
    tubs, at = range(100, 125), "2026-03-01T00:00Z"
    for name, lines in {
        "skulls": ["name", *(f"roe {tub}" for tub in tubs)],
        "baths": ["tub,filled_at,recipe", *(f"{tub},{at},soap" for tub in tubs)],
        "skull_events": [
            "skull,happened_at,kind,tub",
            *(f"roe {tub},{at},entered,{tub}" for tub in tubs),
        ],
    }.items():
        (season.parent / f"{name}.csv").write_text("\n".join(lines), "utf-8")
    told = call(f"book import {season.parent} --logbook {season}")
    assert "new and unnamed: tub 100-124;" in told.stderr
    assert "out of date: 26 tubs;" in call("today").stderr
    run("change 100-104 --at 2026-03-03")
    assert "water change of tub 100-104\n" in run("undo --list")


def test_an_answer_out_of_date_is_starred_until_it_is_worked_out(season: Path) -> None:
    stale = call("today")
    assert "out of date: tub 12" in stale.stderr
    told = answer("today --fresh")["tubs"][0]["answer"]
    assert told["is_current"]
    assert told["made_at"] is not None
    assert "out of date" not in call("today").stderr
    run("reading add 12 --haze 4 --std 0.3")
    assert not answer("today")["tubs"][0]["answer"]["is_current"]


def test_a_tub_is_shown_by_its_number_alone(season: Path) -> None:
    told = run("tub 12 --now 2026-03-07")
    assert told.splitlines()[0] == "Was the water of tub 12 (door) changed?"
    assert "degreased about" in told
    assert "in it: fox 3" in told
    assert "soap at 40 °C, 6 days old as entered, 2 days or more if it was changed\n" in told
    body = answer("tub 12 --now 2026-03-07")
    assert body["answer"]["words"] == told.splitlines()[0]
    assert body["advice"]["change"]["verdict"]


@pytest.mark.parametrize(
    "command",
    [
        "tub 99 --new",
        "tub 12 --volume 30",
        "tub 12 --temperature 30",
        "skull cat~9 --new",
        "skull fox~3 dried",
    ],
)
def test_looking_back_enters_nothing(season: Path, command: str) -> None:
    before = run("undo --list")
    assert "--now only looks" in call(f"{command} --now 2026-03-07").stderr
    assert run("undo --list") == before


def test_tubs_are_listed_without_a_number(season: Path) -> None:
    assert run("tub --now 2026-03-07") == run("today --now 2026-03-07")
    assert "give its number first" in call("tub --volume 60").stderr


def test_a_tub_gets_another_number(season: Path) -> None:
    run("tub 12 --renumber 21")
    assert answer("today")["tubs"][0]["tub"]["number"] == 21
    assert len(answer("reading list 21")["readings"]) == 5
    run("undo --yes")
    assert answer("today")["tubs"][0]["tub"]["number"] == 12
    run("tub 13 --new")
    assert "there is a tub 13 already" in call("tub 12 --renumber 13").stderr
    run("tub 12 --renumber 13 --same")
    assert [one["tub"]["number"] for one in answer("today")["tubs"]] == [13]


def test_what_a_tub_or_skull_was_called_before_hides_no_entry(season: Path) -> None:
    run("skull fox~3 --rename vixen")
    for line in ("fox~3", "fox~3 degreased", "fox~3 white", "fox~3 --rename roe"):
        assert "skull fox 3 is called vixen now" in call(f"skull {line}").stderr
    assert "is called vixen now" in call("reading add 12 --haze 3 --std 1 --skull fox~3").stderr
    assert run("tub 12 --renumber 21") == "tub 12 is tub 21 now\n"
    for line in ("tub 12", "change 12 --recipe soap", "skull vixen moved --tub 12"):
        assert "tub 12 is tub 21 now" in call(line).stderr
    assert "tub 12 was new" in call("reading add 12 --haze 3 --std 1").stderr  # a photo's tag
    assert [one["tub"]["number"] for one in answer("today")["tubs"]] == [12, 21]


@pytest.mark.parametrize(
    "line",
    [
        "tub 12 --renumber 21 --volume 60",
        "tub 12 --volume 60 --at 2026-03-02",
        "skull fox~3 degreased --owner Eva",
        "skull fox~3 --rename vixen --owner Eva",
        "skull fox~3 --owner Eva --at 2026-03-02",
        "skull fox~3 degreased --yellowness 14",
        "skull fox~3 dried --hours 3",
        "skull fox~3 white --instead-of 2026-03-02",
        "change 12 --empty --recipe soap",
    ],
)
def test_nothing_given_is_left_out_silently(season: Path, line: str) -> None:
    before = answer("undo --list")
    assert call(line).exit_code in {1, 2}
    assert answer("undo --list") == before


def test_a_skull_gets_another_name(season: Path) -> None:
    run("skull fox~3 --rename vixen")
    assert [one["name"] for one in answer("skull")["skulls"]] == ["vixen"]
    assert "entered into tub 12" in run("skull vixen")
    run("skull fox --species fox")
    assert "there is a skull fox already" in call("skull vixen --rename fox").stderr
    run("skull vixen --rename fox --same")
    assert [one["name"] for one in answer("skull")["skulls"]] == ["fox"]


def test_an_old_entry_is_taken_back_by_itself(season: Path) -> None:
    number = answer("undo --list")["entries"][-2]["number"]
    run("tub 14 --new")
    asked = CliRunner().invoke(app, ["undo", str(number)], input="y\n")
    assert asked.exit_code == 0, asked.output
    assert answer("today")["tubs"][0]["bath"] is None
    assert len(answer("reading list 12")["readings"]) == 5
    listed = run("undo --list")
    assert "water change of tub 12  (taken back)" in listed
    assert "there is no entry 999" in call("undo 999").stderr


def test_what_rests_on_an_entry_is_asked_about(season: Path) -> None:
    first = answer("undo --list")["entries"][-1]["number"]
    run("tub 12 --name shed")
    refused = CliRunner().invoke(app, ["undo", str(first)], input="n\n")
    assert refused.exit_code == 1
    assert "rest on it. Take all back?" in refused.output
    what = {one["number"]: one["what"] for one in answer("undo --list")["entries"]}
    told = run(f"undo {first} --yes").splitlines()
    assert len(told) > 1
    assert told[-1] == f"taken back: {what[first]}"
    gone = [one for one in answer("undo --list")["entries"] if one["undone_at"]]
    assert told == [f"taken back: {one['what']}" for one in gone]
    for one in gone[:-1]:
        assert f"{one['number']} ({one['what']})" in refused.output


def test_a_promise_is_kept_with_its_odds(season: Path) -> None:
    run("answer 1 yes --now 2026-03-07")
    assert run("promise").startswith("nothing is promised; promise a day: greasecheck promise ")
    told = run("promise fox~3 2035-01-01")
    assert told.startswith("fox 3: promised for 1 Jan 2035, ready by then with more than 9 in 10")
    assert "promised: fox 3 for 1 Jan 2035" in run("today")
    assert run("promise").startswith(told.strip() + "; when promised ")
    assert run("promise --now 2026-03-07").startswith("nothing is promised")
    (listed,) = answer("promise")["promises"]
    assert (listed["promise"]["skull"], listed["in_danger"]) == ("fox 3", False)
    assert listed["promise"]["ready_by"].startswith("2035-01-01T23:59")  # as by the page
    assert "that day has gone by" in call("promise fox~3 2020-01-01").stderr
    assert "more than 10 years away" in call("promise fox~3 2999-01-01").stderr
    assert run("promise badger").startswith("a new badger: promise ")
    assert "can be promised" in run("promise fox~3 --now 2026-03-07")
    assert "--now only looks" in call("promise fox~3 2035-02-01 --now 2026-03-07").stderr
    assert len(answer("promise")["promises"]) == 1


def test_the_setup_shows_what_is_open(path: Path) -> None:
    assert f"there is no logbook at {path} yet" in call("setup").stderr
    assert not path.exists()
    assert "open  clear water is photographed\n      greasecheck setup clear" in run("setup")
    run("setup --measured-by eye --change-price 3 --day-price 2")
    told = answer("setup")
    assert told["settings"] == {"measured_by": "eye", "change_price": "3", "day_price": "2"}
    assert told["next"] == "tubs"


def test_an_empty_garage_says_what_to_do(season: Path, path: Path) -> None:
    for _ in range(8):
        run("undo --yes")
    assert "no tub is entered" in call("today --logbook " + str(_empty(path))).stdout


def _empty(path: Path) -> Path:
    other = path.with_name("empty.logbook")
    Logbook(other, create=True).close()
    return other


def test_a_refused_photo_is_asked_for_again(path: Path, tmp_path: Path) -> None:
    (photo,) = write_photos(tmp_path / "photos", 1, refused_every=1)
    run("tub 10 --name b")
    run("change 10 --recipe soap")
    with Logbook(path) as opened:
        list(log_photos(opened, [photo], measure_files, LogSettings()))
    assert "photo again please" in run("today")
    assert "the camera looks at the sheet from the side; face it squarely" in run("tub 10")


def test_steps_of_one_day_keep_the_order_in_which_they_are_entered(season: Path) -> None:
    run("tub 20 --new")
    run("skull fox~3 degreased --at 2026-04-10")
    run("skull fox~3 whitened --strength 12 --hours 18 --at 2026-04-10")
    run("skull fox~3 resoaked --tub 20 --at 2026-04-10")
    run("skull fox~3 dried --at 2026-04-10")
    again = call("skull fox~3 dried --at 2026-04-10")
    assert again.exit_code == 1, again.stdout
    story = run("skull fox~3 --now 2026-04-20")
    steps = ("degreased", "whitened 12%", "resoaked", "dried")
    assert sorted(steps, key=story.rindex) == list(steps)


def test_a_skull_goes_its_way(season: Path) -> None:
    run("tub 14 --new")
    assert run("skull fox~3 moved --tub 14 --at 2026-03-10").startswith(
        "skull fox 3: moved, tub 14"
    )
    assert "fox 3  fox  tub 14, soaking for 19 d" in run("skull --now 2026-03-20")
    assert answer("skull")["skulls"][0]["soak"]["tub"] == 14
    run("skull fox~3 degreased --at 2026-04-10")
    assert "whiten it" in run("skull")
    run("skull fox~3 whitened --strength 3 --hours 24 --at 2026-04-12")
    run("skull fox~3 resoaked --tub 12 --at 2026-04-14")
    assert "fox 3  fox  tub 12, rinsing after whitening for 5 d" in run("skull --now 2026-04-19")
    run("skull fox~3 dried --at 2026-04-20")
    assert answer("skull fox~3 returned --at 2026-04-21 --note home")["event"]["note"] == "home"
    told = run("skull fox~3 white --yellowness 18 --at 2026-06-01")
    assert told == "skull fox 3: still white\n"
    assert answer("skull fox~3 yellow --at 2026-07-01")["follow_up"]["yellowed"]
    story = run("skull fox~3")
    assert story.startswith("fox 3: looked at again on 1 Jul 2026")
    assert " 1 Mar 2026, 00:00  entered into tub 12" in story
    assert "whitened 3% for 24 h" in story
    assert len(answer("skull fox~3")["story"]) == 15


def test_a_skull_may_be_entered_without_a_tub(path: Path) -> None:
    assert run("skull roe --owner me") == "skull roe is entered\n"
    assert answer("skull buck --owner me")["event"] is None
    assert "roe  species unknown  next: put into a tub" in run("skull")


def test_blanks_too_many_in_a_name_are_left_out(path: Path) -> None:
    assert run("skull Füchsin~~Anna~ --species fox") == "skull Füchsin Anna is entered\n"
    assert "Füchsin Anna: entered" in run("skull ~Füchsin~Anna")
    assert run("skull Füchsin~Anna --owner Eva") == "noted of skull Füchsin Anna\n"
    run("tub 12 --name ~by~~the~door~")
    run("skull ~Füchsin~~Anna --owner ~Eva~~Brandt --species roe~~deer --tub 12")
    assert answer("tub 12")["tub"]["name"] == "by the door"
    (known,) = answer("skull")["skulls"]
    assert (known["owner"], known["species"]) == ("Eva Brandt", "roe deer")
    run("reading add 12 --haze 4 --std 1 --skull Füchsin~~Anna")
    assert run("looks Füchsin~~Anna").startswith("no photo names Füchsin Anna")
    assert run("skull Füchsin~Anna --rename ~Hedda~~2").endswith("is called Hedda 2\n")


def test_a_name_that_stands_with_blanks_too_many_is_found(path: Path, tmp_path: Path) -> None:
    (tmp_path / "skulls.csv").write_text("name\nfox  3\n")
    run(f"book import {tmp_path}/skulls.csv")
    run("skull fox~~3 --owner Eva")
    assert [one["owner"] for one in answer("skull")["skulls"]] == ["Eva"]


def test_water_that_nothing_lay_in_for_months_is_asked_about(season: Path) -> None:
    told = call("change 12 --recipe soap --at 2025-03-01").stderr
    assert "nothing lay in the water of tub 12 of 1 Mar 2025, 00:00, and nobody read it" in told
    run("undo --yes")
    assert call("change 12 --recipe soap --at 2026-02-20").stderr == ""
    run("undo --yes")


def test_a_skull_is_not_moved_to_the_tub_it_lies_in(season: Path) -> None:
    refused = call("skull fox~3 moved --tub 12")
    assert (refused.exit_code, "lies in tub 12 by then already" in refused.stderr) == (1, True)
    run("tub 14 --new")
    for tub in (14, 12):  # there and back, entered of one minute
        run(f"skull fox~3 moved --tub {tub} --at 2026-03-10")
    assert answer("skull")["skulls"][0]["soak"]["tub"] == 12


def test_dates_that_contradict_each_other_are_said(season: Path) -> None:
    early = "the reading of tub 12 is of 1 Mar 2025, 00:00, before the tub's first day, 1 Mar 2026"
    assert early in call("reading add 12 --haze 4 --std 1 --at 2025-03-01").stderr
    assert "first day, 1 Mar 2026" in call("reading shift 12 --by -40d --since 2026-03-05").stderr
    assert call("reading shift 12 --by 40d --since 2025-06-01 --until 2026-02-20").stderr == ""
    assert "before its first day of use, 9 Mar 2026" in call("tub 12 --started 2026-03-09").stderr
    for harmless in ("tub 12 --note by~the~door", "tub 12 --checked now"):
        assert call(harmless).stderr == ""  # undo would take back the note, not the date
        run("undo --yes")
    run("undo --yes")
    assert (
        "fox 4 lies in tub 12 from 1 Mar 2025" in call("skull fox~4 --tub 12 --at 1.3.2025").stderr
    )
    assert call("skull fox~4 entered --tub 12 --at 2.3.2026 --instead-of 1.3.2025").stderr == ""
    old = "fox 3 lies in tub 12 from 1 Mar 2026, 00:00 on, in water of 1 Mar 2025, 00:00, 365 days"
    assert old in call("change 12 --at 2025-03-01 --instead-of 2026-03-01").stderr
    assert call("change 12 --at 2026-02-28 --instead-of 2025-03-01").stderr == ""


def test_readings_are_listed_marked_and_moved(season: Path) -> None:
    assert "WRONG" in run("reading wrong 12 --why foam")
    listed = run("reading list 12 --since 2026-03-06")
    assert listed.splitlines()[0].endswith("good  WRONG")
    assert "wrong was no, is yes: foam" in listed
    assert "WRONG" not in run("reading right 12 --at 2026-03-06")
    assert run("reading move 12 --to 14").startswith("tub 14")
    told = answer("reading list 14")
    assert [one["field"] for one in told["corrections"]] == ["wrong", "wrong", "tub"]
    assert told["readings"][0]["attenuation_std_per_m"] == 0.3
    assert run("reading list 99") == "tub 99 has no reading\n"


def test_readings_are_shifted(season: Path) -> None:
    told = run("reading shift 12 --by -1h --since 2026-03-05")
    assert told == "tub 12: 2 readings moved by -1h\n"
    assert answer("reading shift 12 --by 30m --since 2026-03-01 --until 2026-03-02") == {
        "moved": 1,
        "by_s": 1800.0,
    }
    assert "no reading in that time" in call("reading shift 12 --by 1h --since 2027-01-01").stderr


def test_a_new_tub_is_pointed_out(path: Path) -> None:
    result = call("reading add 31 --haze 5 --std 1")
    assert "tub 31 was new and stands there unnamed" in result.stderr
    assert answer("reading add 32 --haze 5 --std 1")["new_tub"]
    assert not answer("reading add 32 --yellowness 30 --at 5m~ago")["new_tub"]


def test_the_last_entry_is_taken_back(season: Path) -> None:
    assert run("undo").startswith("taken back: reading of tub 12 by hand")
    assert answer("undo")["undone"]["rows"] == 1
    run("tub 14 --new")
    run("change 12 14 --recipe soap")
    result = CliRunner().invoke(app, ["undo"], input="n\n")
    assert result.exit_code == 1
    result = CliRunner().invoke(app, ["undo"], input="y\n")
    assert "taken back: water change of tub 12, 14" in result.stdout


def test_nothing_to_undo_is_told(path: Path) -> None:
    assert "no entry to take back" in call(f"undo --logbook {_empty(path)}").stderr


def test_the_book_is_kept_safe(season: Path, tmp_path: Path) -> None:
    assert run("book where").strip() == str(season)
    assert answer("book where") == {"logbook": str(season), "exists": True}
    assert run("book check") == "the logbook is sound\n"
    assert answer("book check") == {"sound": True, "faults": []}
    backup = tmp_path / "backup"
    assert run(f"book backup {backup}").endswith("MB, checked\n")
    assert answer(f"book backup {tmp_path}/two")["size_bytes"] > 4096
    run("change 12")
    assert "is kept as" in run(f"book restore {backup}")
    told = answer(f"book restore {backup} --logbook {tmp_path}/new.logbook")
    assert told["kept"] is None
    fresh = run(f"book restore {backup} --logbook {tmp_path}/newer.logbook")
    assert "is kept as" not in fresh


def test_faults_in_the_book_are_told_with_an_exit_code(season: Path) -> None:
    with Logbook(season) as opened:
        opened.connection.execute("PRAGMA foreign_keys = OFF")
        opened.connection.execute("UPDATE baths SET tub = 99")
    result = call("book check")
    assert result.exit_code == 1
    assert "missing row of tubs" in result.stdout
    assert call("book check --json").exit_code == 1


def test_the_book_goes_out_and_comes_in(season: Path, tmp_path: Path) -> None:
    assert len(run(f"book export {tmp_path}/out").splitlines()) == len(TABLES)
    assert len(answer(f"book export {tmp_path}/few tubs baths")["files"]) == 2
    other = tmp_path / "other.logbook"
    told = run(f"book import {tmp_path}/out --logbook {other}")
    assert "readings: 5 added, 0 stood there" in told
    known = answer(f"book import {tmp_path}/out --logbook {other}")["import"]
    assert known["known"]["readings"] == 5
    (tmp_path / "baths.csv").write_text("tub,filled_at,recipe\n7,2026-01-01T00:00Z,soap\n")
    result = call(f"book import {tmp_path}/baths.csv")
    assert "new and unnamed: tub 7" in result.stderr
    early, late = "7,2025-12-31T00:00Z,9,1\n", "7,2026-01-02T00:00Z,9,1\n"
    (tmp_path / "readings.csv").write_text(
        f"tub,taken_at,attenuation_per_m,attenuation_std_per_m\n{early}{late}"
    )
    result = call(f"book import {tmp_path}/readings.csv")
    assert result.stderr == "tub 7: 1 reading from before its first day, belonging to no soak\n"


def test_the_columns_are_told_with_their_units(path: Path) -> None:
    assert "attenuation_per_m (number): haze: beam attenuation, or its bound [1/m]" in run(
        "book columns readings"
    )
    tables = answer("book columns")["tables"]
    assert len(tables) == len(TABLES)
    assert "soap" in tables[1]["columns"][3]["choices"]


def test_tubs_and_skulls_are_completed(season: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    run("tub 14 --new")
    context = typer.Context(typer.main.get_command(app))
    assert complete_tub(context, "1") == ["12", "14"]
    assert complete_skull(context, "f") == ["fox 3"]
    context.params["logbook"] = season.with_name("nowhere")
    assert complete_tub(context, "1") == []


def test_the_shell_asks_for_completions(season: Path) -> None:
    result = CliRunner().invoke(
        app,
        [],
        env={
            "_GREASECHECK_COMPLETE": "complete_bash",
            "COMP_WORDS": "greasecheck change 1",
            "COMP_CWORD": "2",
        },
        prog_name="greasecheck",
    )
    assert result.stdout.split() == ["12"]


def test_errors_are_told_as_json_too(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.argv", ["greasecheck", "today", "--json"])
    result = call("today --json")
    assert json.loads(result.stderr)["error"]["code"] == "logbook"
