"""The commands that set up the stand and read photos, run as a user would."""

import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner, Result

from greasecheck.cli.app import app
from tests.synthetic.jar_scene import JarScene, photograph

MURKY = JarScene(transmittance=(0.5,) * 3, veil=0.15, bone_lab_rgb=(0.62, 0.55, 0.42), seed=5)


def run(*arguments: object) -> Result:
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


def answer(*arguments: object) -> Any:  # noqa: ANN401 - JSON
    result = run(*arguments, "--json")
    assert result.exit_code == 0, result.stderr
    body = json.loads(result.stdout)
    assert body["schema"] == 1
    return body


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("bench")
    scenes = {"clear.png": JarScene(seed=4, tub=None), "murky.png": MURKY}
    for name, scene in scenes.items():
        Image.fromarray(photograph(scene).pixels).save(place / name)
    Image.fromarray(np.full((400, 500, 3), 90, np.uint8)).save(place / "wall.png")
    return place


@pytest.fixture(scope="module")
def reference(folder: Path) -> Path:
    path = folder / "made" / "clear.json"
    body = answer("clear", folder / "clear.png", "--out", path)
    assert body["path_mm"] == 60.0
    assert body["photos"] == 1
    return path


def test_read_gives_what_other_programs_rely_on(folder: Path, reference: Path) -> None:
    body = answer("read", folder / "murky.png", "--reference", reference, "--no-log")
    (reading,) = body["readings"]
    assert reading["tub"] == 12
    assert reading["verdict"] == "doubtful"
    assert reading["time_source"] == "file"
    assert set(reading["water"]["attenuation_per_m"]) == {"r", "g", "b", "main"}
    assert reading["water"]["attenuation_std_per_m"] > 0
    assert reading["water"]["bound"] is None
    assert len(reading["bone"]["lab"]) == 3
    assert 0 <= reading["bone"]["yellow_patch_share"] <= 1
    keys = {part: " ".join(reading[part]) for part in ("bone", "colour")}
    assert keys == {
        "bone": "yi_e313 yi_std yi_spread lab whiteness_cie tint_cie delta_e00_clean "
        "yellow_patch_share yellow_share_std area_mm2 state pieces left_out",
        "colour": "loo_delta_e00 absolute order clipped_share gradient_ratio",
    }
    assert " ".join(reading["checks"][0]) == "name value limit passed hard advice"
    assert reading["colour"]["absolute"] is False
    assert reading["colour"]["loo_delta_e00"] < 3
    assert {"name", "value", "limit", "passed", "hard", "advice"} == set(reading["checks"][0])


def test_clear_water_asks_back_when_a_tubs_tag_hangs_there(folder: Path, tmp_path: Path) -> None:
    tagged = tmp_path / "tagged.png"
    Image.fromarray(photograph(JarScene(seed=4, tub=12)).pixels).save(tagged)
    options = (tagged, "--out", tmp_path / "clear.json")
    asked = run("clear", *options)
    assert asked.exit_code == 1
    assert "shows the tag of tub 12" in asked.stderr
    assert "greasecheck clear PHOTO --tap-water" in asked.stderr
    assert not (tmp_path / "clear.json").exists()
    (time,) = answer("clear", *options, "--tap-water")["doubts"]
    assert "carries no time" in time
    assert time in run("clear", *options, "--tap-water").stderr


def test_another_jar_needs_its_own_reference(folder: Path, reference: Path) -> None:
    options = ("--reference", reference, "--no-log", "--path-mm")
    result = run("read", folder / "wall.png", *options, 30)
    assert result.exit_code == 1
    assert result.stderr.startswith("error[water]: ")
    assert "greasecheck clear PHOTO --path-mm" in result.stderr
    assert run("read", folder / "murky.png", *options, 60).exit_code == 0


def test_where_nothing_could_be_read_the_exit_status_says_so(folder: Path, tmp_path: Path) -> None:
    for log in (("--no-log",), ("--logbook", tmp_path / "season.logbook")):
        for how in ((), ("--json",)):
            refused = run("read", folder / "wall.png", *log, *how)
            assert refused.exit_code == 1
            assert "no reference sheet" in refused.stdout
        some = run("read", folder / "wall.png", folder / "murky.png", "--tub", 12, *log)
        assert some.exit_code == 0
        assert run("read", folder / "murky.png", "--tub", 12, *log).exit_code == 0  # known now
    assert run("read", folder / "wall.png", "--no-log", "--strict").exit_code == 3


def test_strict_exits_with_3(folder: Path, reference: Path) -> None:
    options = ("--reference", reference, "--no-log")
    assert run("read", folder / "murky.png", *options, "--strict").exit_code == 3
    assert run("read", folder / "murky.png", *options).exit_code == 0


def test_table_fits_a_narrow_terminal(folder: Path, reference: Path) -> None:
    result = run("read", folder, "--reference", reference, "--no-log")
    assert result.exit_code == 0
    lines = result.stdout.splitlines()
    assert max(map(len, lines)) <= 80
    assert any(re.search(r"wall\.png .* refused", line) for line in lines)
    assert any("no reference sheet" in line for line in lines)


def test_overlays_are_saved(folder: Path, reference: Path, tmp_path: Path) -> None:
    options = ("--reference", reference, "--no-log", "--overlay", tmp_path / "found")
    assert run("read", folder, *options).exit_code == 0
    names = sorted(path.name for path in (tmp_path / "found").iterdir())
    assert names == ["clear.png.overlay.jpg", "murky.png.overlay.jpg", "wall.png.overlay.jpg"]


def test_calibrate_from_photos_and_from_figures(folder: Path, tmp_path: Path) -> None:
    series = tmp_path / "figures.csv"
    rows = [f"{fnu},0.1,{fnu / 1.5},0.1" for fnu in (5, 10, 20, 40)]
    header = "turbidity,turbidity_std,attenuation_per_m,std_per_m"
    series.write_text("\n".join(["# formazin", header, *rows]))
    scale = tmp_path / "scale.json"
    body = answer("calibrate", series, "--out", scale)
    assert body["slope_per_attenuation_m"] == pytest.approx(1.5, rel=1e-3)
    reading = answer("read", folder / "murky.png", "--scale", scale, "--no-log")["readings"][0]
    assert reading["water"]["turbidity_unit"] == "FNU"
    expected = 1.5 * reading["water"]["attenuation_per_m"]["main"]
    assert reading["water"]["turbidity"] == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("read", "nowhere", "--no-log"), "there is no"),
        (("read", "{folder}/none", "--no-log"), "there is no"),
        (("read", "{folder}", "--reference", "{folder}/wall.png", "--no-log"), "cannot read"),
        (("read", "{folder}", "--reference", "missing.json", "--no-log"), "cannot read"),
        (("read", "{folder}", "--zone", "Moon/Base", "--no-log"), "no time zone"),
        (("clear", "{folder}/wall.png", "--out", "{folder}/x.json"), "sheet"),
        (("calibrate", "missing.csv", "--out", "{folder}/x.json"), "cannot read"),
    ],
)
def test_bad_input_is_said_in_clear_words(
    folder: Path, arguments: tuple[str, ...], words: str
) -> None:
    result = run(*(argument.replace("{folder}", str(folder)) for argument in arguments))
    assert "Traceback" not in result.output
    assert words in result.output
    assert result.exit_code == 1
    assert not (folder / "x.json").exists()


def test_the_stand_is_set_up_in_words(folder: Path, tmp_path: Path) -> None:
    made = run("clear", folder / "clear.png", "--out", tmp_path / "clear.json")
    assert "60 mm" in made.stdout
    series = tmp_path / "figures.csv"
    header = "turbidity,turbidity_std,attenuation_per_m,std_per_m"
    series.write_text("\n".join([header, "5,0.1,5,0.1", "10,0.1,10,0.1", "20,0.1,20,0.1"]))
    fitted = run("calibrate", series, "--out", tmp_path / "scale.json")
    assert "FNU per 1/m, from 3 dilutions" in fitted.stdout
    series.write_text("turbidity,turbidity_std\n5,0.1\n")
    assert "lacks or garbles" in run("calibrate", series, "--out", tmp_path / "x.json").output


def test_errors_are_json_when_asked(folder: Path) -> None:
    result = run("read", folder, "--zone", "Moon/Base", "--no-log", "--json")
    body = json.loads(result.stderr)
    assert (result.exit_code, body["error"]["code"], body["schema"]) == (1, "data", 1)
    assert result.stdout == ""


@pytest.mark.parametrize("option", [("--shift", "-2d"), ("--skull", "fox"), ("--again",)])
def test_what_only_the_log_heeds_is_refused_without_it(
    folder: Path, option: tuple[str, ...]
) -> None:
    result = run("read", folder / "wall.png", "--no-log", *option)
    assert result.exit_code == 2
    assert "are for the log" in result.stderr


def test_empty_folder_is_an_error(tmp_path: Path) -> None:
    result = run("read", tmp_path, "--no-log")
    assert result.exit_code == 1
    assert "hint:" in result.stderr


def test_outline_file(folder: Path, reference: Path, tmp_path: Path) -> None:
    outline = tmp_path / "outline.csv"
    outline.write_text("x_mm,y_mm\n300,90\n370,90\n370,140\n300,140\n")
    options = ("--reference", reference, "--no-log", "--outline", outline)
    area = answer("read", folder / "murky.png", *options)["readings"][0]["bone"]["area_mm2"]
    assert area == pytest.approx(70 * 50, rel=0.05)
    outline.write_text("300,90\n370,90\n")
    assert "three points" in run("read", folder / "murky.png", *options).output
    outline.write_text("300,ninety\n")
    assert "not two numbers" in run("read", folder / "murky.png", *options).output
