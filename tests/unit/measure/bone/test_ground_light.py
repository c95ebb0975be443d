"""A lamp that lights the bone on its rest and not the sheet shows on the dark ground."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.measure.bone.ground_light import (
    GREY_WITHIN,
    USUAL_CHANGE,
    gain_on_ground,
    ground_light,
    hue_off_sheet,
)
from greasecheck.measure.reading import view_photo
from greasecheck.model import Verdict
from greasecheck.model.bone import GroundLight
from greasecheck.reference import known_sheets
from tests.benchmarks import rest_hue
from tests.benchmarks.degraded_photos import settings_for
from tests.synthetic.degraded.picture import developed, load, save, soft_box, truths

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.model import Reading

REST = known_sheets()[0].rest_zone
BOX = (REST.x_mm, REST.y_mm - 10, REST.x_mm + REST.width_mm + 30, REST.y_mm + REST.height_mm + 10)
TRUTH = next(one for one in truths() if one.file.name == "10_tub12_april.jpg")


def read(folder: Path, gains: tuple[float, float, float], *, with_rest: bool = True) -> Reading:
    """Read a sample photo whose rest alone is lit by so much more or less of R, G, B."""
    scenery, path = load(TRUTH), folder / "lit.jpg"
    shape = soft_box(scenery.mm, BOX, 15.0)[..., None]
    lit = scenery.light * (1 + (np.array(gains, dtype=np.float32) - 1) * shape)
    save(developed(lit), TRUTH, path)
    settings = settings_for(TRUTH.file.parent)
    assert settings.jar.clear is not None
    assert settings.jar.clear.rest is not None
    if not with_rest:
        clear = replace(settings.jar.clear, rest=None)
        settings = replace(settings, jar=replace(settings.jar, clear=clear))
    return view_photo(path, settings).reading


def failed(reading: Reading) -> set[str]:
    return {check.name for check in reading.checks if not check.passed}


@pytest.mark.parametrize("gains", [(1.15, 1.1, 0.95), (1.02, 1.1, 1.25)])
def test_a_lamp_of_another_hue_on_the_rest_widens_the_error_and_is_named(
    tmp_path: Path, gains: tuple[float, float, float]
) -> None:
    reading = read(tmp_path, gains)
    assert failed(reading) - {"yellow_share_std"} == {"hue_of_rest"}  # the share is unsure, too
    assert reading.verdict is Verdict.DOUBTFUL
    assert reading.bone is not None
    assert TRUTH.yi_e313 is not None
    assert abs(reading.bone.yi_e313 - TRUTH.yi_e313) < 3 * reading.bone.yi_std


def test_a_little_more_light_of_the_sheet_s_own_hue_is_no_fault(tmp_path: Path) -> None:
    reading = read(tmp_path, (1.1, 1.1, 1.1))
    assert reading.verdict is Verdict.GOOD
    assert reading.bone is not None
    assert reading.bone.yi_std < 2.0


def test_much_more_light_on_the_rest_alone_is_named_whatever_its_hue(tmp_path: Path) -> None:
    assert failed(read(tmp_path, (1.4, 1.4, 1.4))) == {"light_on_rest"}


def test_without_the_rest_in_the_reference_only_what_is_not_near_grey_is_named(
    tmp_path: Path,
) -> None:
    assert failed(read(tmp_path, (1.05, 1.0, 0.95), with_rest=False)) == set()
    assert "hue_of_rest" in failed(read(tmp_path, (1.5, 1.0, 0.6), with_rest=False))


def test_hue_counts_beyond_what_is_usual() -> None:
    assert hue_off_sheet(None, None) == hue_off_sheet(None, lit(0.1)) == 0.0
    assert hue_off_sheet(lit(-GREY_WITHIN), None) == 0.0
    assert hue_off_sheet(lit(-GREY_WITHIN - 0.1), None) == pytest.approx(0.1)
    assert hue_off_sheet(lit(0.3), lit(0.3 + USUAL_CHANGE)) == pytest.approx(0.0)
    assert hue_off_sheet(lit(0.1), lit(-0.1)) == pytest.approx(0.2 - USUAL_CHANGE)


def test_the_gain_is_a_logarithm_and_unknown_without_the_reference() -> None:
    assert gain_on_ground(lit(0.0, 6.0), lit(0.1, 3.0)) == pytest.approx(np.log(2))
    assert gain_on_ground(lit(0.0, 6.0), None) == gain_on_ground(None, lit(0.0)) == 0.0


def lit(hue: float, luminance: float = 3.0) -> GroundLight:
    return GroundLight(hue=hue, luminance=luminance)


def test_the_ground_beside_what_stands_tells_its_light() -> None:
    grey, red = np.array([0.95047, 1.0, 1.08883]), np.array([1.2 * 0.95047, 1.0, 1.08883])
    xyz = np.broadcast_to(4 * grey, (120, 160, 3)).copy()
    xyz[:, 100:] = 5 * red
    ground = np.ones((120, 160), dtype=bool)
    standing = np.zeros_like(ground)
    standing[40:80, 20:40] = True
    moved = np.roll(standing, 100, axis=1)
    for place, hue, luminance in ((standing, 0.0, 4.0), (moved, np.log(1.2), 5.0)):
        seen = ground_light(xyz, ground, place, 2.0)
        assert seen is not None
        assert seen.hue == pytest.approx(hue, abs=1e-6)
        assert seen.luminance == pytest.approx(luminance)
    assert ground_light(xyz, ground & moved, moved, 2.0) is None
    assert ground_light(xyz / 50, ground, standing, 2.0) is None


def test_the_usual_change_is_what_a_bone_s_own_light_makes() -> None:
    found = rest_hue.changes(60)
    assert found.min() > 0
    assert 0.6 * USUAL_CHANGE < found.max() <= USUAL_CHANGE
