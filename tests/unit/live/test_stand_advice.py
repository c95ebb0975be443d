"""What to move about a stand: how far, and which way."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import numpy as np
import pytest

from greasecheck.live.setup.advice import first_photo_advice, stand_advice
from greasecheck.model import Verdict
from tests.logbook_samples import make_check, make_reading

if TYPE_CHECKING:
    from greasecheck.measure.reading import PhotoView
    from greasecheck.model import Check

SOUND = make_check()


def view(
    *checks: Check, pixels_per_mm: float = 4.0, tilt_deg: float = 2.0, left: int = 120
) -> PhotoView:
    """A photo of the stand, 3000 pixels wide, its left half so light and its right half 120."""
    pixels = np.full((20, 3000, 3), 120, np.uint8)
    pixels[:, :1500] = left
    reading = replace(make_reading(), checks=(*checks, SOUND), verdict=Verdict.DOUBTFUL)
    placement = SimpleNamespace(
        pixels_per_mm=pixels_per_mm, tilt_deg=tilt_deg, geometry=SimpleNamespace(is_card=False)
    )
    found = SimpleNamespace(
        reading=reading,
        readings=(reading,),
        photo=SimpleNamespace(pixels=pixels),
        placement=placement,
        ladders=(),
    )
    return cast("PhotoView", found)


def failed(name: str) -> Check:
    return replace(make_check(passed=False), name=name)


def test_a_sound_stand_is_left_alone() -> None:
    assert stand_advice(view()).is_good
    for asked_of_a_tub in ("time_from_camera", "tub_tag_seen", "clear_water_reference"):
        assert stand_advice(view(failed(asked_of_a_tub))).is_good


@pytest.mark.parametrize(("pixels_per_mm", "nearer_mm"), [(2.0, 220), (1.25, 870), (2.49, 10)])
def test_a_camera_too_far_away_is_told_how_much_nearer(
    pixels_per_mm: float, nearer_mm: int
) -> None:
    """A lens of 26 mm before 36 mm of film sees a width of 3000 px / (px/mm) from 26/36 of it.

    From 1083 mm with 2 px/mm it is a fifth too far for 2.5, from 1733 mm with 1.25 half.
    """
    [move] = stand_advice(view(pixels_per_mm=pixels_per_mm)).moves
    assert f" {nearer_mm} mm nearer" in move


def test_a_tilted_camera_is_turned() -> None:
    [move] = stand_advice(view(tilt_deg=30.0)).moves
    assert move.startswith("turn the camera to face the sheet squarely")


@pytest.mark.parametrize(("left", "side"), [(150, "left"), (90, "right")])
def test_the_side_that_is_lit_too_strongly_is_the_lighter_one(left: int, side: str) -> None:
    [move] = stand_advice(view(failed("light_gradient_ratio"), left=left)).moves
    assert move.startswith(f"the {side} is lit too strongly")


def test_what_else_is_wrong_comes_last() -> None:
    advice = stand_advice(view(failed("paper_level"), pixels_per_mm=2.0))
    assert len(advice.moves) == 2
    assert advice.moves[0].startswith("put the camera")
    assert not advice.is_good


def test_ladders_and_card_must_be_seen() -> None:
    for measured_by in ("ladder", "card"):
        advice = first_photo_advice(view(), measured_by)
        assert not advice.seen
        assert advice.moves[0].startswith(f"no {measured_by} is seen")
    assert first_photo_advice(view(), "stand").is_good
