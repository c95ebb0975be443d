"""Files that once broke a reader: each is now refused with what to do about it."""

import json
import os
import sqlite3
from pathlib import Path

import pytest
from typer.testing import CliRunner

from greasecheck.cli.app import app
from greasecheck.cli.setup.stand import _rows
from greasecheck.errors import (
    DataFileError,
    GreasecheckError,
    LogbookError,
    PhotoError,
    WaterError,
)
from greasecheck.logbook.csv.read import import_tables
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.faults import DamagedLogbookError, in_clear_words
from greasecheck.logbook.store.safety import back_up, restore
from greasecheck.measure import turbidity
from greasecheck.measure.photo.file import file_sha256
from greasecheck.measure.photo.load import load_photo
from greasecheck.measure.sheet import lens
from greasecheck.measure.water.reference_file import clear_water_from_json
from greasecheck.reference.geometry import read_geometry
from greasecheck.reference.lookup import HEADER_KEYS, read_lookup
from greasecheck.words.typed_times import parse_span, parse_time
from tests.property.readers import samples

LONG_CELL = "x" * 200_000
DEEP = "[" * 100_000


def written(folder: Path, text: str, name: str = "file") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    "change",
    [("60.0", "Infinity"), ('"sheet_version": 1', '"sheet_version": Infinity'), ("0.85", "1e999")],
)
def test_a_reference_with_infinite_numbers_is_refused(change: tuple[str, str]) -> None:
    [sound] = samples()["clear_water"]
    text = sound.decode().replace(*change)
    assert text != sound.decode()
    with pytest.raises(DataFileError, match="no clear-water reference"):
        clear_water_from_json(text, "clear.json")


def test_endlessly_nested_json_is_refused(tmp_path: Path) -> None:
    with pytest.raises(DataFileError, match="no clear-water reference"):
        clear_water_from_json(DEEP, "clear.json")
    with pytest.raises(DataFileError, match="no turbidity scale"):
        turbidity.scale_from_json(DEEP, "scale.json")
    with pytest.raises(DataFileError, match="not a lens file"):
        lens.read_lens(written(tmp_path, DEEP))


@pytest.mark.parametrize(
    "change", [("1.02", "NaN"), ('"shift_mm": 0.0', '"shift_mm": Infinity'), ("1.02", "-1")]
)
def test_a_reference_with_an_impossible_alignment_is_refused(change: tuple[str, str]) -> None:
    text = samples()["clear_water"][0].decode().replace(*change)
    with pytest.raises(DataFileError, match="no clear-water reference"):
        clear_water_from_json(text, "clear.json")


@pytest.mark.parametrize(
    "matrix", ["[[9, 0, 0], [0, 0, 0], [0, 0, 1]]", "[[9, 0, 0], [0, 9, 0], [0, 0, 0]]"]
)
def test_a_lens_that_nothing_can_be_seen_through_is_refused(tmp_path: Path, matrix: str) -> None:
    body = {**json.loads(samples()["lens"][0]), "matrix_px": json.loads(matrix)}
    with pytest.raises(DataFileError, match="the matrix must"):
        lens.read_lens(written(tmp_path, json.dumps(body)))


@pytest.mark.parametrize("number", ["nan", "inf", "-inf"])
def test_a_sheet_without_finite_lengths_is_refused(tmp_path: Path, number: str) -> None:
    text = samples()["geometry"][0].decode().replace("width = 260.0", f"width = {number}")
    with pytest.raises(DataFileError, match="lacks or garbles"):
        read_geometry(written(tmp_path, text))


@pytest.mark.parametrize(
    ("turbidity_std", "attenuation_per_m", "problem"),
    [
        (1e-300, 2.0, "standard errors"),
        (1e200, 2.0, "standard errors"),
        (0.1, 1e308, "standard errors"),
        (0.1, -2.0, "do not rise"),
        (0.1, 0.0, "do not rise"),
    ],
)
def test_dilutions_of_no_water_are_refused(
    turbidity_std: float, attenuation_per_m: float, problem: str
) -> None:
    series = [
        turbidity.Dilution(
            turbidity=float(n),
            turbidity_std=turbidity_std,
            attenuation_per_m=n * attenuation_per_m,
            std_per_m=0.0,
        )
        for n in range(1, 5)
    ]
    with pytest.raises(WaterError, match=problem):
        turbidity.fit_scale(series, "FNU")


def test_a_csv_cell_without_end_is_refused(tmp_path: Path) -> None:
    with pytest.raises(DataFileError, match="is not CSV"):
        _rows(written(tmp_path, f"{LONG_CELL}\n1\n"))


def test_a_lookup_cell_without_end_is_refused(tmp_path: Path) -> None:
    head = "".join(f"# {key}: some\n" for key in HEADER_KEYS)
    with pytest.raises(DataFileError, match="it is not CSV"):
        read_lookup(written(tmp_path, f"{head}a\n{LONG_CELL}\n"))


def test_a_span_of_thousands_of_digits_is_refused() -> None:
    with pytest.raises(LogbookError, match="too long a span"):
        parse_span("9" * 5000 + "d")


@pytest.mark.parametrize("text", ["0001-01-01T00:00:00Z", "9999-12-31T23:59:59Z", "0001-01-01"])
def test_times_that_some_zones_cannot_tell_are_refused(text: str) -> None:
    with pytest.raises(LogbookError, match="makes no sense"):
        parse_time(text)


def test_names_too_long_for_the_disk_are_told(tmp_path: Path) -> None:
    path = tmp_path / ("x" * 5000)
    for arguments in (["read"], ["book", "import"], ["book", "restore"], ["clear"], ["calibrate"]):
        result = CliRunner().invoke(app, [*arguments, str(path)])
        assert (result.exit_code, result.stdout) == (1, "")
        assert "File name too long" in result.stderr
        assert "hint: " in result.stderr


def test_a_table_line_without_end_is_refused_before_it_fills_the_memory(tmp_path: Path) -> None:
    path = written(tmp_path, "number,name\n" + "," * 3_000_000, "tubs.csv")
    with Logbook(tmp_path / "book", create=True) as book:
        with pytest.raises(DataFileError, match="line is longer"):
            import_tables(book, [path])
        assert list(book.rows("SELECT number FROM tubs")) == []


def test_a_pipe_named_like_a_table_is_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "tubs.csv")
    with (
        Logbook(tmp_path / "book", create=True) as book,
        pytest.raises(DataFileError, match="is no file"),
    ):
        import_tables(book, [tmp_path / "tubs.csv"])


def test_a_backup_with_a_garbled_schema_is_refused(tmp_path: Path) -> None:
    with Logbook(tmp_path / "book", create=True) as book:
        back_up(book, tmp_path / "backup")
    content = (tmp_path / "backup").read_bytes()
    (tmp_path / "backup").write_bytes(
        content.replace(b"CREATE TABLE tubs", b"CREATE T\xfa\xffLE tubs")
    )
    with pytest.raises(LogbookError, match="damaged"):
        restore(tmp_path / "backup", tmp_path / "new")
    assert not (tmp_path / "new").exists()


def test_text_in_the_logbook_that_is_no_utf8_is_told_as_damage(tmp_path: Path) -> None:
    connection = sqlite3.connect(":memory:")
    with pytest.raises(DamagedLogbookError), in_clear_words(tmp_path):
        connection.execute("SELECT CAST(X'ff' AS TEXT)").fetchall()
    connection.close()


def test_a_huge_file_is_not_read_to_know_its_digest(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    with path.open("wb") as file:
        file.truncate(10**11)  # sparse: takes no space, but minutes to read
    with pytest.raises(PhotoError, match="larger than"):
        file_sha256(path)


def test_a_file_time_beyond_all_years_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.png"
    path.write_bytes(samples()["header"][1])
    stat = path.stat()

    class FarFuture:
        st_mode, st_size, st_mtime = stat.st_mode, stat.st_size, 1e18

    monkeypatch.setattr(
        "greasecheck.measure.photo.exif._local_time", lambda *_: None
    )  # as when EXIF has none
    monkeypatch.setattr(Path, "stat", lambda *_, **__: FarFuture)
    with pytest.raises(GreasecheckError, match="plausible time"):
        load_photo(path)
