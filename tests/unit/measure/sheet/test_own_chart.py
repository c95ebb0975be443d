"""Photos read by a geometry that the user names, with parts left out."""

import re
from pathlib import Path

import pytest
from typer.testing import CliRunner

from greasecheck.cli.app import app
from greasecheck.measure import read_photo
from greasecheck.measure.reading import ReadSettings
from greasecheck.model import Reading, ReadingKind, Verdict
from greasecheck.reference import data_folder, read_geometry
from greasecheck.reference.patches.values import read_patch_values

SAMPLES = data_folder("sample_images")
PHOTO = SAMPLES / "03_tub12_february.jpg"
MEASURED = SAMPLES / "sheet_measured.cgats"
SHEET = (data_folder("calibration") / "sheet_v1.toml").read_text(encoding="utf-8")


def bare_chart(folder: Path) -> Path:
    """The sheet's geometry without jar, sight, tag, rest, ruler, words and values."""
    text = re.sub(r"(?ms)^\[(jar|sight|tag|rest|ruler)\].*?(?=^\[)", "", SHEET)
    text = re.sub(r"(?ms)^\[\[notes\]\].*?(?=^\[patches\])", "", text)
    text = re.sub(r"(?m)^(version|patch_values) = .*$", "", text)
    path = folder / "chart.toml"
    path.write_text(text, encoding="utf-8")
    return path


def read_by(chart: Path) -> Reading:
    geometry = read_geometry(chart)
    measured = read_patch_values(MEASURED, geometry)
    return read_photo(PHOTO, ReadSettings(sheets=(geometry,), values=measured))


def test_a_chart_without_jar_and_rest_is_read_for_its_colours(tmp_path: Path) -> None:
    whole = read_photo(PHOTO, ReadSettings(values=read_patch_values(MEASURED)))
    bare = read_by(bare_chart(tmp_path))
    assert (bare.kind, bare.water, bare.tub) == (ReadingKind.BONE, None, None)
    assert bare.verdict is not Verdict.GOOD  # what else lies beside the chart is asked about
    assert bare.colour is not None
    assert whole.colour is not None
    assert bare.colour.loo_delta_e00 == pytest.approx(whole.colour.loo_delta_e00, abs=0.1)


def test_a_named_chart_replaces_the_built_in_sheets(tmp_path: Path) -> None:
    text = bare_chart(tmp_path).read_text(encoding="utf-8")
    other = tmp_path / "other.toml"
    other.write_text(text.replace("id = 0", "id = 40").replace("id = 1\n", "id = 41\n"))
    stated = tmp_path / "stated.cgats"
    stated.write_text("CGATS.17\nSHEET_VERSION 1\n" + MEASURED.read_text().partition("\n")[2])
    command = ["read", "--no-log", "--sheet", str(other), "--patches", str(stated), str(PHOTO)]
    refused = CliRunner().invoke(app, command)
    assert refused.exit_code == 1
    assert isinstance(refused.exception, SystemExit)
    without = CliRunner().invoke(app, ["read", "--no-log", "--sheet", str(other), str(PHOTO)])
    assert "corner markers can be read" in without.stdout + without.stderr


def test_the_chart_in_the_data_folder_is_used(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    own = tmp_path / "greasecheck" / "sheet.toml"
    own.parent.mkdir()
    own.write_text(bare_chart(tmp_path).read_text(encoding="utf-8"), encoding="utf-8")
    found = CliRunner().invoke(app, ["read", "--no-log", str(PHOTO)])
    assert "not known" in found.stdout + found.stderr  # its patches have no colours yet
