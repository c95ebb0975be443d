"""What goes wrong in a garage, run as a user would: clear words, exit code 1, nothing lost."""

import json
import os
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from greasecheck.logbook.store.book import Logbook
from tests.unit.cli.photos.test_read import run


@pytest.fixture
def wall(tmp_path: Path) -> Path:
    path = tmp_path / "wall.png"
    Image.fromarray(np.full((60, 80, 3), 90, np.uint8)).save(path)
    return path


def assert_refused(code: str, *arguments: object) -> None:
    result = run(*arguments)
    assert result.exit_code == 1
    assert result.stderr.startswith(f"error[{code}]: ")
    assert "\n\nhint: " in result.stderr
    body = json.loads(run(*arguments, "--json").stderr)
    assert body["schema"] == 1
    assert set(body["error"]) == {"code", "problem", "hint"}


def test_photo_that_is_not_there_ends_the_run(wall: Path, tmp_path: Path) -> None:
    logbook = tmp_path / "season.logbook"
    assert_refused("photo", "read", wall, tmp_path / "no.jpg", "--logbook", logbook)
    assert_refused("photo", "read", tmp_path / "no.jpg", "--no-log")
    assert not logbook.exists()


@pytest.mark.parametrize("log", [(), ("--no-log",)])
def test_pipe_is_no_photo(tmp_path: Path, log: tuple[str, ...]) -> None:
    os.mkfifo(tmp_path / "pipe.jpg")
    arguments = ("read", tmp_path / "pipe.jpg", *log, "--logbook", tmp_path / "season.logbook")
    result = run(*arguments, "--strict")
    assert result.exit_code == 3
    assert "not a file" in result.stdout + result.stderr


def test_refusal_by_the_log_is_told(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.jpg")
    result = run("read", tmp_path / "pipe.jpg", "--logbook", tmp_path / "season.logbook")
    assert "pipe.jpg is not logged: " in result.stderr
    assert "name a photo" in result.stderr


@pytest.mark.parametrize("name", ["new\nline.png", "red\x1b[31m.png", "<script> 🦊 [b].png"])
def test_odd_names_are_read_and_logged(wall: Path, tmp_path: Path, name: str) -> None:
    odd = wall.rename(tmp_path / name)
    result = run("read", odd, "--logbook", tmp_path / "season.logbook", "--json")
    assert result.exit_code == 1, result.stderr  # nothing but this photo, which is refused
    (reading,) = json.loads(result.stdout)["readings"]
    assert reading["photo"].isprintable()
    with Logbook(tmp_path / "season.logbook") as book:
        assert list(book.rows("SELECT photo_path FROM attempts")) == [(reading["photo"],)]


def test_name_in_broken_characters(wall: Path, tmp_path: Path) -> None:
    odd = wall.rename(Path(os.fsdecode(os.fsencode(tmp_path) + b"/latin\xe9.png")))
    result = run("read", odd, "--logbook", tmp_path / "season.logbook")
    assert result.exit_code == 1, result.stderr
    assert "latin?.png" in result.stdout


def test_overlays_need_a_folder_to_write_to(wall: Path, tmp_path: Path) -> None:
    assert_refused("data", "read", wall, "--no-log", "--overlay", wall)
    long = wall.rename(tmp_path / f"{'x' * 250}.png")
    assert_refused("data", "read", long, "--no-log", "--overlay", tmp_path / "found")


def test_overlays_of_one_name_would_hide_each_other(wall: Path, tmp_path: Path) -> None:
    twin = tmp_path / "more" / wall.name
    twin.parent.mkdir()
    twin.write_bytes(wall.read_bytes())
    assert_refused("photo", "read", wall, twin, "--no-log", "--overlay", tmp_path / "found")
    assert not (tmp_path / "found").exists()


def test_output_below_a_file(wall: Path) -> None:
    result = run("sheet", "print", wall / "sheet.pdf")
    assert result.exit_code == 1
    assert result.stderr.startswith("error[data]: ")


@pytest.mark.parametrize("zone", ["nonsense", "Europe", "../../etc/passwd", "x" * 300])
def test_zone_that_is_none(wall: Path, zone: str) -> None:
    assert_refused("data", "read", wall, "--no-log", "--zone", zone)


def test_a_page_that_cannot_be_written_is_refused_before_the_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    logbook, file = tmp_path / "season.logbook", tmp_path / "file"
    run("tub", 12, "--new", "--logbook", logbook)
    file.write_text("no folder")
    monkeypatch.setattr("greasecheck.garage.season.page.gather_season", None)
    assert_refused("data", "season", file / "page.html", "--logbook", logbook)


@pytest.mark.parametrize(
    "line",
    [
        "tub 12 --started 2999-01-01",
        "tub 12 --renumber 14",
        f"skull {'fox' * 99} --species fox",
        "reading add 12 --haze 4",
        "reading add 12 --haze 4 --std 1 --skull fox",
        "reading add 12 --haze 4 --std 1 --at 2999-01-01",
        "calibrate no_series.csv",
    ],
)
def test_a_refused_first_entry_leaves_nothing(tmp_path: Path, line: str) -> None:
    result = run(*line.split(), "--logbook", tmp_path / "season.logbook")
    assert (result.exit_code, "\n\nhint: " in result.stderr) == (1, True)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("shift", ["-3000000d", "+900000d", "99999999999d", "nonsense"])
def test_shift_out_of_this_world(wall: Path, tmp_path: Path, shift: str) -> None:
    assert_refused("logbook", "read", wall, "--shift", shift, "--logbook", tmp_path / "s.logbook")


def test_tub_number_beyond_all(tmp_path: Path) -> None:
    logbook = ("--logbook", tmp_path / "season.logbook")
    run("tub", 12, "--new", *logbook)
    assert_refused("logbook", "change", "99999999999999999999", *logbook)


def test_wrong_usage_is_json_where_json_was_asked_for() -> None:
    result = run("today", "--nonsense", "--json")
    assert result.exit_code == 2
    assert result.stdout == ""
    error = json.loads(result.stderr)["error"]
    assert error["code"] == "usage"
    assert "--nonsense" in error["problem"]


@pytest.mark.parametrize(
    "arguments",
    [
        ("--tub", "99999999999999999999"),
        ("--tub", "-5"),
        ("--dilution", "inf"),
        ("--dilution", "nan"),
        ("--dilution", "0"),
        ("--path-mm", "nan"),
    ],
)
def test_numbers_out_of_range_are_refused(wall: Path, arguments: tuple[str, ...]) -> None:
    assert_refused("range", "read", wall, *arguments)


@pytest.mark.parametrize("arguments", [("--watch", "--no-log"), ("--watch", "--json")])
def test_wrong_options_are_wrong_usage(wall: Path, arguments: tuple[str, ...]) -> None:
    assert run("read", wall, *arguments).exit_code == 2


@pytest.mark.parametrize("line", ["", "nan,0", "100,100,100", "5;5"])
def test_outline_that_is_none(wall: Path, tmp_path: Path, line: str) -> None:
    outline = tmp_path / "outline.csv"
    outline.write_text(f"\ufeffx_mm,y_mm\n0,0\n10,0\n{line}\n", encoding="utf-8")
    assert_refused("data", "read", wall, "--no-log", "--outline", outline)


SERIES = "turbidity,turbidity_std,attenuation_per_m,std_per_m"


def test_series_saved_by_a_spreadsheet(tmp_path: Path) -> None:
    series = tmp_path / "series.csv"
    series.write_text(f"\ufeff{SERIES}\r\n10,1,5,0.5\r\n20,1,10,0.5\r\n40,1,20,0.5\r\n", "utf-8")
    logbook = ("--logbook", tmp_path / "season.logbook")
    result = run("calibrate", series, "--out", tmp_path / "scale.json", *logbook)
    assert result.exit_code == 0, result.stderr


@pytest.mark.parametrize(
    ("code", "rows"),
    [
        ("data", f"{SERIES}\n1,5,0,1,5,5,0,5\n"),
        ("data", f"{SERIES.replace(',', ';')}\n10;1;5;0,5\n"),
        ("data", f'{SERIES}\n"1,5",1,5,1\n'),
        ("data", "photo\nmurky.jpg\n"),
        ("water", f"{SERIES}\n10,0,5,0\n20,0,10,0\n40,0,20,0\n"),
        ("water", f"{SERIES}\n10,1,nan,1\n20,1,10,1\n40,1,20,1\n"),
        ("water", f"{SERIES}\n10,1,0,1\n20,1,0,1\n40,1,0,1\n"),
        ("water", f"{SERIES}\n"),
    ],
)
def test_series_that_is_none(tmp_path: Path, code: str, rows: str) -> None:
    series = tmp_path / "series.csv"
    series.write_text(rows)
    out = tmp_path / "scale.json"
    logbook = ("--logbook", tmp_path / "season.logbook")
    assert_refused(code, "calibrate", series, "--out", out, *logbook)
    assert not out.exists()


@pytest.mark.parametrize("value", ["NaN", "Infinity", "0", "-2"])
def test_scale_with_an_impossible_slope(wall: Path, tmp_path: Path, value: str) -> None:
    scale = tmp_path / "scale.json"
    scale.write_text(
        f'{{"schema": 1, "kind": "turbidity scale", "unit": "FNU", "points": 5,'
        f' "slope_std": 0.1, "slope_per_attenuation_m": {value}}}'
    )
    assert_refused("data", "read", wall, "--no-log", "--scale", scale)


@pytest.mark.parametrize("command", ["season", "calendar"])
def test_an_answer_replaces_nothing_of_another_kind(tmp_path: Path, command: str) -> None:
    logbook, letter = tmp_path / "season.logbook", tmp_path / "owner.txt"
    assert run("tub", 12, "--new", "--logbook", logbook).exit_code == 0
    letter.write_text("a letter")
    for there in (logbook, letter):
        before = there.read_bytes()
        refused = run(command, there, "--logbook", logbook)
        assert refused.exit_code == 1
        assert "left as it is" in refused.stderr
        assert there.read_bytes() == before
    assert not list(tmp_path.glob("*.part"))


def test_an_answer_replaces_an_earlier_one(tmp_path: Path) -> None:
    page = tmp_path / "cards.pdf"
    for _ in range(2):
        assert run("sheet", "print", page, "--design", "card").exit_code == 0


def test_a_device_is_no_place_for_an_answer(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.pdf")
    assert_refused("data", "sheet", "print", tmp_path / "pipe.pdf")
    assert (tmp_path / "pipe.pdf").is_fifo()
