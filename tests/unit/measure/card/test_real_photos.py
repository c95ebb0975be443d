"""Real photographs of a chart go through the card's code by a geometry file and its values."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from greasecheck.measure.reading import ReadSettings, view_photo
from greasecheck.model import Absent, ReadingKind
from greasecheck.reference import read_geometry
from greasecheck.reference.patches.values import read_patch_files

FOLDER = os.environ.get("GREASECHECK_REAL_PHOTOS", "")
pytestmark = pytest.mark.skipif(not FOLDER, reason="GREASECHECK_REAL_PHOTOS is not set")


@pytest.mark.parametrize("number", range(1, 11))
def test_a_real_chart_is_read_as_a_card_and_its_ground_is_no_bone(number: int) -> None:
    folder = Path(FOLDER)
    chart = read_geometry(folder / "chart_geometry.toml")
    values = read_patch_files([folder / "reference_values.csv"], [chart])
    settings = ReadSettings(values=values, sheets=(chart,), tub=1)
    reading = view_photo(folder / f"chart_{number:02d}.jpg", settings).reading
    assert (reading.kind, reading.bone) == (ReadingKind.BONE, None)
    assert reading.absent == (Absent.BONE_BESIDE,)
    assert reading.colour is not None
    assert reading.colour.absolute
    # published accuracy of such fits on phone photos: 1.5 to 4 Delta E00 (from memory)
    assert reading.colour.loo_delta_e00 < 5
