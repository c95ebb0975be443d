import json
import re
from io import BytesIO
from pathlib import Path

import cv2
import numpy as np
import pytest
import typer
from PIL import Image
from typer.testing import CliRunner, Result

from greasecheck.cli.setup import sheet
from greasecheck.errors import DataFileError, SheetError
from greasecheck.reference import data_folder, known_sheets
from greasecheck.reference.patches.values import nominal_values

NOMINAL = data_folder("calibration") / "sheet_v1_nominal.cgats"


def run(*arguments: object) -> Result:
    app = typer.Typer()
    sheet.register(app)
    return CliRunner().invoke(app, ["sheet", *map(str, arguments)])


@pytest.mark.parametrize(("paper", "width_mm"), [("a4", 297.0), ("letter", 279.4)])
def test_prints_the_sheet_as_pdf(tmp_path: Path, paper: str, width_mm: float) -> None:
    out = tmp_path / "new" / "sheet.pdf"
    result = run("print", out, "--paper", paper)
    assert result.exit_code == 0, result.output
    assert "ruler measures 100 mm" in result.output
    width = re.search(rb"/MediaBox \[ 0 0 ([\d.]+)", out.read_bytes())
    assert width is not None
    assert float(width[1]) / 72 * 25.4 == pytest.approx(width_mm, abs=0.01)


def test_prints_the_sheet_as_png(tmp_path: Path) -> None:
    out = tmp_path / "sheet.PNG"
    assert run("print", out, "--dpi", 100, "--version", 1).exit_code == 0
    with Image.open(BytesIO(out.read_bytes())) as image:
        assert image.size == (1024, 748)
        assert image.info["dpi"] == pytest.approx((100, 100), abs=0.02)


def test_prints_tags(tmp_path: Path) -> None:
    out = tmp_path / "tags.pdf"
    assert run("tags", out, 10, 11).exit_code == 0
    assert out.read_bytes().count(b"/Type /Page\n") == 1
    assert run("tags", out).exit_code == 0
    assert out.read_bytes().count(b"/Type /Page\n") == 2  # all forty

    png = tmp_path / "tag.png"
    assert run("tags", png, 23, "--dpi", 150).exit_code == 0
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50))
    ids = detector.detectMarkers(np.asarray(Image.open(png)))[1]
    assert np.ravel(ids).tolist() == [23]


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_prints_bone_cards_four_a_page_and_their_places(tmp_path: Path, paper: str) -> None:
    out = tmp_path / "card.pdf"
    assert run("print", out, "--design", "card", "--count", 6, "--paper", paper).exit_code == 0
    assert out.read_bytes().count(b"/Type /Page\n") == 2
    places = tmp_path / "card.json"
    assert run("print", places, "--design", "card").exit_code == 0
    answer = json.loads(places.read_text(encoding="utf-8"))
    assert answer == json.loads(run("show", "--design", "card", "--json").stdout)
    assert (answer["version"], answer["rest_zone_mm"], answer["sight"]) == (101, None, None)


def test_shows_the_sheet_as_json() -> None:
    result = run("show", "--json")
    assert result.exit_code == 0
    answer = json.loads(result.stdout)
    assert answer["schema"] == 1
    assert answer["version"] == 2
    assert answer["sight"]["glass_mm"][1] < answer["fill_line_y_mm"]
    assert [cell["name"] for cell in answer["ladder"]["cells"]][:2] == ["L1", "L2"]
    assert answer["measured"] is False
    geometry = known_sheets()[-1]
    values = nominal_values(geometry)
    patches = {patch["name"]: patch for patch in answer["patches"]}
    assert list(patches) == list(values.names)
    assert patches["B2a"]["box_mm"] == [140.0, 42.0, 14.0, 12.0]
    assert patches["B2a"]["print_rgb"] == [230, 220, 200]
    assert patches["B2a"]["xyz"] == pytest.approx(values.of("B2a").tolist())
    assert patches["paper"]["box_mm"] is None
    assert len(answer["paper_windows_mm"]) == len(geometry.paper_windows)


def test_shows_measured_values(tmp_path: Path) -> None:
    mine = tmp_path / "mine.txt"
    text = NOMINAL.read_text(encoding="utf-8").replace('VALUES "nominal"', 'VALUES "measured"')
    text = text.replace(" RGB_R RGB_G RGB_B", " A B C")
    mine.write_text(text, encoding="utf-8")
    result = run("show", "--patches", mine)
    assert result.exit_code == 0
    assert "measured values" in result.stdout
    assert f"{nominal_values(known_sheets()[0]).of('N1a')[1]:.2f}" in result.stdout
    answer = json.loads(run("show", "--patches", mine, "--json").stdout)
    assert answer["measured"] is True
    assert answer["patches"][0]["print_rgb"] is None


@pytest.mark.parametrize(
    ("arguments", "problem"),
    [
        (("print", "sheet.doc"), "is none of .pdf, .png, .json"),
        (("tags", "tags.png", 10, 11), "a PNG holds one tag"),
        (("tags", "tags.pdf", 201), "no tag for tub 201"),
        (("print", "card.pdf", "--design", "card", "--version", 1), "no card version 1"),
        (("show", "--version", 9), "no sheet version 9"),
        (("show", "--patches", "none.txt"), "cannot be read"),
    ],
)
def test_what_cannot_be_done_is_refused(
    arguments: tuple[object, ...], problem: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    result = run(*arguments)
    assert isinstance(result.exception, DataFileError | SheetError)
    assert problem in result.exception.problem
    assert list(tmp_path.iterdir()) == []


def test_what_cannot_be_written_is_reported_and_leaves_nothing(tmp_path: Path) -> None:
    (tmp_path / "sheet.pdf").mkdir()
    result = run("print", tmp_path / "sheet.pdf")
    assert isinstance(result.exception, DataFileError)
    assert [path.name for path in tmp_path.iterdir()] == ["sheet.pdf"]
