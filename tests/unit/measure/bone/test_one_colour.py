"""A card or a strip of wood that lies on the bone is told by its colour's own edges."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np
import pytest

from greasecheck.measure.bone.one_colour import one_colour_regions
from greasecheck.measure.checks.verdict import laid_on_checks
from greasecheck.measure.reading import view_photo
from greasecheck.model import Verdict
from greasecheck.reference.cie import WHITES, lab_to_xyz
from tests.benchmarks.degraded_photos import settings_for
from tests.synthetic.degraded import things
from tests.synthetic.degraded.picture import load, save, truths

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.model import BoolArray, FloatArray

PER_MM = 2.0
ROWS, COLUMNS = 160, 240
MIDDLE, HALF = (120, 80), (100, 60)
BONE_LAB, YELLOW_LAB, WOOD_LAB = (88.0, 0.5, 8.0), (80.0, 3.0, 24.0), (72.0, 7.0, 20.0)
MOTTLING = 0.01  # of each channel's light, pixel by pixel


def painted(shape: str, turned_deg: float = 25.0) -> tuple[FloatArray, BoolArray]:
    """Return a shaded oval bone with a stain, and perhaps a strip of wood, as XYZ and mask."""
    mask = np.zeros((ROWS, COLUMNS), np.uint8)
    cv2.ellipse(mask, MIDDLE, HALF, 0, 0, 360, 1, -1)
    labs = np.broadcast_to(np.array(BONE_LAB), (ROWS, COLUMNS, 3)).copy()
    stain = cv2.ellipse(np.zeros_like(mask), (80, 60), (40, 26), 10, 0, 360, 1, -1) > 0
    labs[stain] = YELLOW_LAB
    if shape == "strip":
        box = cv2.boxPoints(((125.0, 85.0), (110.0, 30.0), turned_deg)).astype(np.int32)
        labs[cv2.fillPoly(np.zeros_like(mask), [box], (1,)) > 0] = WOOD_LAB
    x, y = np.meshgrid(np.arange(COLUMNS), np.arange(ROWS))
    shade = 1 - 0.5 * ((x - 120) / 120) ** 2 - 0.3 * (y - 80) / 160
    xyz = lab_to_xyz(labs.reshape(-1, 3), WHITES["D65"]).reshape(labs.shape) * shade[..., None]
    return xyz * np.random.default_rng(5).normal(1, MOTTLING, xyz.shape), mask > 0


@pytest.mark.parametrize("turned_deg", [0.0, 25.0, 60.0])
def test_a_strip_within_the_outline_is_found(turned_deg: float) -> None:
    checks = laid_on_checks(one_colour_regions(*painted("strip", turned_deg), PER_MM))
    assert not all(check.passed for check in checks)
    assert not any(check.hard for check in checks)


def test_a_round_stain_and_shading_are_no_fault() -> None:
    xyz, mask = painted("stain")
    regions = one_colour_regions(xyz, mask, PER_MM)
    assert regions
    assert all(check.passed for check in laid_on_checks(regions))


def test_regions_are_the_same_each_time() -> None:
    xyz, mask = painted("strip")
    assert one_colour_regions(xyz, mask, PER_MM) == one_colour_regions(xyz, mask, PER_MM)


def test_next_to_no_bone_has_no_regions() -> None:
    xyz, mask = painted("stain")
    few = np.zeros_like(mask)
    few[80, 120] = True
    assert len(one_colour_regions(xyz, few, PER_MM)) == 1


@pytest.mark.parametrize("name", ["05_tub17_march.jpg", "09_tub21_march.jpg"])
def test_a_card_laid_on_a_skull_is_doubtful(name: str, tmp_path: Path) -> None:
    truth = next(one for one in truths() if one.file.name == name)
    path = tmp_path / "card.jpg"
    save(things.card_on_rest(load(truth), np.random.default_rng(3), 0.5), truth, path)
    reading = view_photo(path, settings_for(truth.file.parent)).reading
    failed = {check.name for check in reading.checks if not check.passed}
    assert reading.verdict is Verdict.DOUBTFUL
    assert failed & {"square_corners_of_one_colour", "one_colour_fills_rectangle"}
