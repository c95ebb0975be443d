from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from greasecheck.cli.app import app
from greasecheck.errors import SheetError
from greasecheck.measure.camera_check import check_camera
from greasecheck.measure.reading import ReadSettings
from greasecheck.model.camera_check import CameraAdvice, CameraCheck
from greasecheck.reference import data_folder
from greasecheck.reference.patches.values import read_patch_values
from greasecheck.words.photos.camera import ADVICE, camera_words

SAMPLES = data_folder("sample_images")
PHOTOS = [SAMPLES / name for name in ("01_tap_water.jpg", "03_tub12_february.jpg",
                                      "05_tub17_march.jpg")]  # fmt: skip
PATCHES = SAMPLES / "sheet_measured.cgats"
SOUND = CameraCheck(
    photos=3, repeat_yi=0.5, repeat_delta_e00=0.3, left_out_delta_e00=1.0, bone_yi_std=1.0,
    luminance_scatter=0.02, exposure_ratio=1.02, light_misfit=0.01, absolute=True,
)  # fmt: skip


def test_a_rendered_camera_of_one_curve_repeats_and_maps_nothing_locally() -> None:
    found = check_camera(PHOTOS, ReadSettings(values=read_patch_values(PATCHES)))
    assert found.photos == 3
    assert found.repeat_yi < 1.0
    assert found.left_out_delta_e00 < 1.0
    assert not found.maps_tones_locally


def test_two_photos_are_too_few() -> None:
    with pytest.raises(SheetError, match="too few"):
        check_camera([*PHOTOS[:2], PHOTOS[0]], ReadSettings())


@pytest.mark.parametrize(
    ("check", "advice"),
    [
        (SOUND, ()),
        (replace(SOUND, exposure_ratio=1.3), (CameraAdvice.LOCK_EXPOSURE,)),
        (replace(SOUND, luminance_scatter=0.045), (CameraAdvice.NO_HDR,)),
        (replace(SOUND, light_misfit=0.1), (CameraAdvice.LIGHT,)),
        (replace(SOUND, left_out_delta_e00=3.5), (CameraAdvice.RAW,)),
        (replace(SOUND, absolute=False, luminance_scatter=0.2), (CameraAdvice.MEASURED_VALUES,)),
    ],
)
def test_advice_follows_from_the_figures(
    check: CameraCheck, advice: tuple[CameraAdvice, ...]
) -> None:
    assert check.advice == advice
    assert [f"- {ADVICE[one]}" for one in advice] == list(camera_words(check)[3:])


def test_the_command_answers(tmp_path: Path) -> None:
    command = ["camera-check", *map(str, PHOTOS), "--patches", str(PATCHES), "--json"]
    found = CliRunner().invoke(app, command)
    assert found.exit_code == 0
    assert '"maps_tones_locally": false' in found.stdout
    missing = CliRunner().invoke(app, ["camera-check", *([str(tmp_path / "no.jpg")] * 3)])
    assert missing.exit_code == 1
