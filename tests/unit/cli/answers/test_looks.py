"""The looks of one skull by command: listed, side by side as a picture, on its owner's page."""

from __future__ import annotations

import json
import os
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner, Result

from greasecheck.cli.app import app
from tests.synthetic.bone_scene.scenes import SceneOrder, photograph
from tests.synthetic.spectral_simulation import CAMERAS

if TYPE_CHECKING:
    from pathlib import Path

START = datetime(2026, 3, 1, 12, tzinfo=UTC)
SHOTS = (  # turn of the camera [degrees], grease, days after the start, minutes
    (70.0, 0.7, 0, 0),
    (250.0, 0.7, 0, 20),
    (100.0, 0.05, 9, 0),
)


def run(book: Path, *arguments: object) -> Result:
    result = CliRunner().invoke(app, [*map(str, arguments), "--logbook", str(book)])
    assert result.exit_code == 0, result.output
    return result


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A logbook with a hare in tub 3, photographed from two sides and once more later."""
    folder = tmp_path_factory.mktemp("looks")
    book = folder / "season.logbook"
    run(book, "tub", 3, "--new")
    run(book, "change", 3, "--recipe", "soap", "--at", "2026-02-20")
    run(book, "skull", "hare", "--species", "hare", "--tub", 3, "--at", "2026-02-20")
    for place, (azimuth, grease, days, minutes) in enumerate(SHOTS):
        order = SceneOrder(
            name="hare", kind="round brain case", length_mm=145.0, light="window",
            camera=CAMERAS[0], seed=4, tilt_deg=20.0, azimuth_deg=azimuth, grease=grease,
            size_px=(960, 720),
        )  # fmt: skip
        photo = folder / f"side_{place}.jpg"
        photo.write_bytes(photograph(order).jpeg)
        at = (START + timedelta(days=days, minutes=minutes)).timestamp()
        os.utime(photo, (at, at))
        run(book, "read", photo, "--tub", 3, "--state", "dry")
    return book


def test_photos_of_one_hour_are_one_look_and_the_worst_side_is_named(season: Path) -> None:
    answer = json.loads(run(season, "looks", "hare", "--json").stdout)
    assert [len(look["sides"]) for look in answer["looks"]] == [2, 1]
    assert [sum(side["worst"] for side in look["sides"]) for look in answer["looks"]] == [1, 1]
    then = ("--now", (START + timedelta(days=1)).isoformat())
    assert json.loads(run(season, "looks", "hare", *then, "--json").stdout)["looks"] == [
        answer["looks"][0]
    ]
    greasy, clean = answer["looks"]
    assert greasy["yi_e313"] > clean["yi_e313"]
    assert "2 sides, the worst side_" in run(season, "looks", "hare").output


def test_the_strip_shows_each_look_cut_out_and_turned_alike(season: Path, tmp_path: Path) -> None:
    out = tmp_path / "hare.png"
    assert "2 looks" in run(season, "looks", "hare", "--strip", out).output
    pixels = np.asarray(Image.open(out)).astype(float)
    first, second = pixels[12:332, 12:332], pixels[12:332, 344:664]
    seen = [square.sum(axis=2) > 200 for square in (first, second)]
    assert all(0.2 < one.mean() < 0.8 for one in seen)
    assert (seen[0] & seen[1]).sum() / (seen[0] | seen[1]).sum() > 0.7
    red_over_blue = [
        square[one].mean(axis=0) for square, one in zip((first, second), seen, strict=True)
    ]
    assert red_over_blue[0][0] / red_over_blue[0][2] > red_over_blue[1][0] / red_over_blue[1][2]


def test_the_owners_page_tells_what_was_done_and_seen_and_promises_nothing(
    season: Path, tmp_path: Path
) -> None:
    out = tmp_path / "hare.html"
    assert "2 looks" in run(season, "looks", "hare", "--page", out).output
    text = out.read_text(encoding="utf-8")
    assert "data:image/png;base64," in text
    assert "entered into tub 3" in text
    assert "promises nothing beyond it" in text
    assert "<script" not in text


def test_a_skull_without_readings_has_no_strip(season: Path, tmp_path: Path) -> None:
    run(season, "skull", "fox", "--new")
    arguments = ["looks", "fox", "--strip", str(tmp_path / "x.png"), "--logbook", str(season)]
    result = CliRunner().invoke(app, arguments)
    assert result.exit_code == 1
    assert not (tmp_path / "x.png").exists()
