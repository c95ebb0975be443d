"""What is told of a camera: each figure under its name, tones only by measured patches."""

from __future__ import annotations

import numpy as np
import pytest

from greasecheck.cli.setup.camera import _check_json, _estimate_json
from greasecheck.measure.sheet.lens_estimate import LensEstimate
from greasecheck.model import Lens
from greasecheck.model.camera_check import CameraCheck


def test_the_focal_length_is_that_along_the_width() -> None:
    matrix = np.array([[3000.0, 0.0, 2000.0], [0.0, 3010.0, 1500.0], [0.0, 0.0, 1.0]])
    lens = Lens(matrix=matrix, distortion=np.arange(5.0), width_px=4000, height_px=3000)
    found = LensEstimate(
        lens=lens, rms_px=0.2, focal_std=0.003, corner_shift_px=21.0, turn_deg=30.0, photos=6
    )
    assert _estimate_json(found) == {
        "focal_px": 3000.0,
        "focal_relative_std": 0.003,
        "distortion": [0.0, 1.0, 2.0, 3.0, 4.0],
        "corner_shift_px": 21.0,
        "rms_px": 0.2,
        "photos": 6,
        "width_px": 4000,
        "height_px": 3000,
    }


@pytest.mark.parametrize("absolute", [True, False])
def test_nominal_patches_do_not_tell_how_tones_are_mapped(absolute: bool) -> None:
    found = CameraCheck(
        photos=3,
        repeat_yi=0.5,
        repeat_delta_e00=0.3,
        left_out_delta_e00=2.0,
        bone_yi_std=1.5,
        luminance_scatter=0.4,
        exposure_ratio=1.1,
        light_misfit=0.01,
        absolute=absolute,
    )
    told = _check_json(found)
    assert told["maps_tones_locally"] is (True if absolute else None)
    assert (told["repeat_yi"], told["bone_yi_std"]) == (0.5, 1.5)
