"""Colours that a camera smears are told from blur, by the law of a blurred edge."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import cv2
import numpy as np
import pytest
from scipy.special import ndtr

from greasecheck.measure.colour.model import fit_colour
from greasecheck.measure.colour.smear import colour_lost
from greasecheck.reference.srgb import linear_of_srgb, srgb_of_linear
from tests.synthetic.drawn_photo import Scene, draw

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

SCENE = Scene(noise=0.002, per_mm=4.0)
PHOTO, PLACEMENT = draw(SCENE)
LIGHT = linear_of_srgb(PHOTO.pixels / 255)


def lost(light: FloatArray) -> float:
    pixels = np.rint(255 * srgb_of_linear(np.clip(light, 0, 1))).astype(np.uint8)
    photo = replace(PHOTO, pixels=pixels)
    colour = fit_colour(photo, PLACEMENT, SCENE.sheet.measured)
    return colour_lost(photo, PLACEMENT, colour)


def blurred(light: FloatArray, blur_mm: float) -> FloatArray:
    return np.asarray(cv2.GaussianBlur(light, (0, 0), blur_mm * SCENE.per_mm))


@pytest.mark.parametrize("blur_mm", [0.5, 1.0])
def test_smeared_colours_are_lost_along_edges_as_a_gaussian_takes_them(blur_mm: float) -> None:
    brightness = LIGHT.mean(axis=-1, keepdims=True)
    kept = ndtr(np.linspace(0.5, 1.5, 101) / blur_mm).mean()  # from 0.5 to 1.5 mm off the edge
    assert lost(brightness + blurred(LIGHT - brightness, blur_mm)) == pytest.approx(
        1 - kept, abs=0.025
    )


@pytest.mark.parametrize("blur_mm", [0.1, 0.8])
def test_blur_of_light_and_colour_alike_is_no_smear(blur_mm: float) -> None:
    assert lost(blurred(LIGHT, blur_mm)) == pytest.approx(0, abs=0.01)
