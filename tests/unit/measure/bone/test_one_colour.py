"""A card or a strip of wood that lies on the bone is told by its colour's own edges."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np
import pytest
from PIL import Image

from greasecheck.measure.bone.one_colour import YI_PER_REDNESS, OneColour, one_colour
from greasecheck.measure.checks.verdict import laid_on_checks
from greasecheck.measure.colorimetry import yellowness_e313
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


def painted(
    shape: str, turned_deg: float = 25.0, step: float = 1.0
) -> tuple[FloatArray, BoolArray]:
    """Return a shaded oval bone as XYZ and mask.

    It has a stain, and perhaps a stained belt from edge to edge or a strip, alone or over the
    stain or over the bone's rim, which differs by a share `step` of what wood does.
    """
    mask = np.zeros((ROWS, COLUMNS), np.uint8)
    cv2.ellipse(mask, MIDDLE, HALF, 0, 0, 360, 1, -1)
    labs = np.broadcast_to(np.array(BONE_LAB), (ROWS, COLUMNS, 3)).copy()
    stain = cv2.ellipse(np.zeros_like(mask), (80, 60), (40, 26), 10, 0, 360, 1, -1) > 0
    if shape != "strip alone":
        labs[stain] = YELLOW_LAB
    if shape == "belt":
        labs[:, 60:110] = YELLOW_LAB
    if shape.startswith("strip"):
        centre = (185.0, 80.0) if shape == "strip over the rim" else (125.0, 85.0)
        box = cv2.boxPoints((centre, (110.0, 30.0), turned_deg)).astype(np.int32)
        labs[cv2.fillPoly(np.zeros_like(mask), [box], (1,)) > 0] = BONE_LAB + step * np.subtract(
            WOOD_LAB, BONE_LAB
        )
    x, y = np.meshgrid(np.arange(COLUMNS), np.arange(ROWS))
    shade = 1 - 0.5 * ((x - 120) / 120) ** 2 - 0.3 * (y - 80) / 160
    xyz = lab_to_xyz(labs.reshape(-1, 3), WHITES["D65"]).reshape(labs.shape) * shade[..., None]
    return xyz * np.random.default_rng(5).normal(1, MOTTLING, xyz.shape), mask > 0


@pytest.mark.parametrize("turned_deg", [0.0, 25.0, 60.0])
def test_a_strip_within_the_outline_is_found(turned_deg: float) -> None:
    seen = one_colour(*painted("strip", turned_deg), PER_MM)
    assert not any(check.passed for check in laid_on_checks(seen))
    assert not any(check.hard for check in laid_on_checks(seen))


def test_a_strip_that_lies_over_the_rim_is_found_by_the_corners_of_its_inner_end() -> None:
    """A third corner may have the bone's own outline for one of its edges."""
    seen = one_colour(*painted("strip over the rim", 0.0), PER_MM)
    corners, _ = laid_on_checks(seen)
    assert not corners.passed


@pytest.mark.parametrize("step", [0.25, 0.5, 1.0])
def test_corners_count_by_how_far_the_colours_differ(step: float) -> None:
    """Not all of it: noise frays edges and blur rounds corners near either colour."""
    seen = one_colour(*painted("strip alone", step=step), PER_MM)
    wood = BONE_LAB + step * np.subtract(WOOD_LAB, BONE_LAB)
    xyz = lab_to_xyz(np.array([BONE_LAB, wood]), WHITES["D65"])
    redness = YI_PER_REDNESS * 100 * xyz[:, 0] / xyz[:, 1]
    differ = np.hypot(np.ptp(yellowness_e313(xyz)), np.ptp(redness))
    assert differ / 3 < seen.corners_yi < differ
    assert differ / 3 < seen.filled_yi < differ


def test_a_round_stain_and_shading_are_no_fault() -> None:
    xyz, mask = painted("stain")
    seen = one_colour(xyz, mask, PER_MM)
    assert all(check.passed for check in laid_on_checks(seen))


def test_a_stain_that_runs_straight_across_the_bone_is_no_fault() -> None:
    """It meets the outline at right angles, four times."""
    seen = one_colour(*painted("belt"), PER_MM)
    assert seen.corners_yi <= 1


def test_next_to_nothing_of_the_photo_changes_next_to_nothing() -> None:
    xyz, mask = painted("strip")
    seen = one_colour(xyz, mask, PER_MM)
    for scale in (1 - 1e-7, 1 + 1e-7):
        changed = one_colour(xyz * np.array([scale, 1.0, 2 - scale]), mask, PER_MM)
        assert abs(changed.corners_yi - seen.corners_yi) <= 1
        assert abs(changed.filled_yi - seen.filled_yi) <= 1


def test_next_to_no_bone_shows_nothing() -> None:
    xyz, mask = painted("stain")
    few = np.zeros_like(mask)
    few[80, 120] = True
    assert one_colour(xyz, few, PER_MM) == OneColour(corners_yi=0.0, filled_yi=0.0)


@pytest.mark.parametrize("quality", [80, 85, 95, 98])
@pytest.mark.parametrize("name", ["10_tub12_april.jpg", "11_tub14_april.jpg"])
def test_a_skull_saved_again_stays_good(name: str, quality: int, tmp_path: Path) -> None:
    truth = next(one for one in truths() if one.file.name == name)
    path = tmp_path / "again.jpg"
    with Image.open(truth.file) as file:
        file.save(path, quality=quality, subsampling="4:2:0", exif=file.getexif())
    reading = view_photo(path, settings_for(truth.file.parent)).reading
    corners = next(one for one in reading.checks if one.name == "square_corners_of_one_colour")
    assert reading.verdict is Verdict.GOOD
    assert corners.value is not None
    assert corners.value <= 2


@pytest.mark.parametrize("name", ["05_tub17_march.jpg", "09_tub21_march.jpg"])
def test_a_card_laid_on_a_skull_is_doubtful(name: str, tmp_path: Path) -> None:
    truth = next(one for one in truths() if one.file.name == name)
    path = tmp_path / "card.jpg"
    save(things.card_on_rest(load(truth), np.random.default_rng(3), 0.5), truth, path)
    reading = view_photo(path, settings_for(truth.file.parent)).reading
    failed = {check.name for check in reading.checks if not check.passed}
    assert reading.verdict is Verdict.DOUBTFUL
    assert failed & {"square_corners_of_one_colour", "one_colour_fills_rectangle"}
