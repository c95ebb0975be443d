"""The forecast command on CSV files, run as a user would."""

from __future__ import annotations

import json
from datetime import datetime
from typing import TYPE_CHECKING, Any

import pytest
import typer
from typer.testing import CliRunner, Result

from greasecheck.cli.answers import forecast as command
from greasecheck.cli.app import CommandGroup
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
def files(tmp_path: Path) -> Path:
    tub = fading_tub(20)
    rows = [f"{r.at.isoformat()},{r.attenuation_per_m},{r.std_per_m},,good" for r in tub.readings]
    head = "taken_at,attenuation_per_m,attenuation_std_per_m,bound,verdict"
    (tmp_path / "r.csv").write_text("\n".join(["# exported", head, *rows, "", ""]))
    fills = [f"{c.at.isoformat()},soap,40,0.05" for c in tub.changes]
    head = "filled_at,recipe,temperature_c,carry_over_share"
    (tmp_path / "b.csv").write_text("\n".join([head, *fills]))
    (tmp_path / "s.csv").write_text(f"name,species,since\nbuck,deer,{day(0).isoformat()}\n")
    return tmp_path


def run(app: typer.Typer, folder: Path, *more: object) -> Result:
    paths = [("--readings", "r.csv"), ("--baths", "b.csv"), ("--skulls", "s.csv")]
    names = [text for option, name in paths for text in (option, str(folder / name))]
    return CliRunner().invoke(app, ["forecast", *names, "--now", NOW, *map(str, more)])


def answer(app: typer.Typer, folder: Path, *more: object) -> Any:  # noqa: ANN401 - JSON
    result = run(app, folder, *more, "--json")
    assert result.exit_code == 0, result.stderr
    body = json.loads(result.stdout)
    assert body["schema"] == 1
    return body["tubs"]


def test_json_gives_quantiles_probability_and_model(app: typer.Typer, files: Path) -> None:
    (tub,) = answer(app, files, "--by", day(400).isoformat(), "--curve")
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


def test_words_name_three_dates_and_the_odds(app: typer.Typer, files: Path) -> None:
    result = run(app, files, "--by", day(400).isoformat())
    assert result.exit_code == 0
    assert "(1 in 2)" in result.stdout
    assert "(9 in 10)" in result.stdout
    assert "clear now: under 1%" in result.stdout
    assert all(len(line) <= 80 for line in result.stdout.splitlines())


def test_what_if_moves_the_dates(app: typer.Typer, files: Path) -> None:
    def median(*more: object) -> str:
        (tub,) = answer(app, files, *more)
        found: str = tub["clear_at_quantiles"][3]["at"]
        return found

    usual = median()
    assert median("--temperature-c", 50) < usual < median("--every-days", 10)
    assert median("--gain-per-m", 1.5) > usual
    assert median("--recipe", "acetone") < usual


def test_own_finished_tubs_move_the_dates(app: typer.Typer, files: Path) -> None:
    (files / "f.csv").write_text("species,days\n" + "deer,300\n" * 9)
    (before,), (after,) = answer(app, files), answer(app, files, "--finished", files / "f.csv")
    assert after["clear_at_quantiles"][5]["at"] > before["clear_at_quantiles"][5]["at"]


def test_several_tubs_and_skulls_are_kept_apart(app: typer.Typer, files: Path) -> None:
    text = (files / "r.csv").read_text().splitlines()
    (files / "r.csv").write_text(
        "\n".join(["tub," + text[1], *("7," + line for line in text[2:] if line)])
    )
    (files / "b.csv").write_text(f"tub,filled_at\n7,{day(0).isoformat()}\n3,{day(0).isoformat()}\n")
    (files / "s.csv").write_text(
        "tub,name,species,since\n"
        f"7,buck,deer,{day(0).isoformat()}\n7,doe,deer,{day(0).isoformat()}\n"
        f"3,,mink,{day(0).isoformat()}\n"
    )
    mink, deer = answer(app, files)
    assert (mink["tub"], deer["tub"]) == (3, 7)
    assert mink["skulls"][0]["name"] == "mink"
    assert mink["diagnostics"]["readings_used"] == 0
    assert [skull["told_apart"] for skull in deer["skulls"]] == [False, False]
    assert "buck (deer): the slowest with 50%" in run(app, files).stdout
    assert [tub["tub"] for tub in answer(app, files, "7")] == [7]
    unknown = run(app, files, "7-8")
    assert unknown.exit_code == 1
    assert "the files tell nothing of tub 8" in unknown.stderr


def test_readings_marked_wrong_or_without_a_value_are_left_out(
    app: typer.Typer, files: Path
) -> None:
    (files / "r.csv").write_text(
        "taken_at,attenuation_per_m,attenuation_std_per_m,wrong\n"
        f"{day(1).isoformat()},9,0.3,1\n{day(2).isoformat()},,,0\n{day(2.5).isoformat()},20,,0\n"
    )
    (tub,) = answer(app, files)
    assert tub["diagnostics"]["readings_used"] == 1


@pytest.mark.parametrize(
    ("name", "text", "problem"),
    [
        ("r.csv", "taken_at,attenuation_per_m\nnever,5\n", "line 2: 'never' is no time"),
        ("r.csv", "taken_at,attenuation_per_m\n2026-01-06T00:00Z,murky\n", "line 2"),
        ("r.csv", "taken_at\n2026-01-06T00:00Z\n", "the column 'attenuation_per_m' is missing"),
        ("b.csv", "filled_at,recipe\n2026-01-05T08:00Z,beer\n", "line 2: 'beer'"),
        ("s.csv", "species,since\n", "no skull"),
    ],
)
def test_faulty_files_are_refused_with_the_line(
    app: typer.Typer, files: Path, name: str, text: str, problem: str
) -> None:
    (files / name).write_text(text)
    result = run(app, files)
    assert result.exit_code == 1
    assert problem in result.stderr
    assert not result.stdout


def test_a_file_that_is_not_there_is_named(app: typer.Typer, files: Path) -> None:
    (files / "b.csv").unlink()
    result = run(app, files, "--json")
    assert result.exit_code == 1
    assert "b.csv" in json.loads(result.stderr)["error"]["problem"]
