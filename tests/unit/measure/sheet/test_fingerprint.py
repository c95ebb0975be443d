"""A copy has its original's noise; the next frame of a burst has its own."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO
from typing import TYPE_CHECKING

import numpy as np
import pytest
from PIL import Image

from greasecheck.measure.sheet.fingerprint import BITS, photo_fingerprint
from greasecheck.model.fingerprints import SAME, agreement
from tests.synthetic.drawn_photo import Scene, draw

if TYPE_CHECKING:
    from greasecheck.model import Photo


def saved(photo: Photo, quality: int) -> Photo:
    """Return the photo saved again as JPEG."""
    content = BytesIO()
    Image.fromarray(photo.pixels).save(content, format="JPEG", quality=quality)
    return replace(photo, pixels=np.asarray(Image.open(content)))


@pytest.mark.parametrize("noise", [0.005, 0.01, 0.03])
@pytest.mark.parametrize("tilt", [0.0, 0.1])
def test_a_copy_agrees_and_the_next_frame_does_not(noise: float, tilt: float) -> None:
    photo, placement = draw(Scene(noise=noise, tilt=tilt, per_mm=6.0, seed=1))
    original = saved(photo, 95)
    first = photo_fingerprint(original, placement)
    assert agreement(first, photo_fingerprint(saved(original, 90), placement)) >= SAME
    following, _ = draw(Scene(noise=noise, tilt=tilt, per_mm=6.0, seed=2))
    assert agreement(first, photo_fingerprint(saved(following, 95), placement)) < SAME


def test_independent_noise_agrees_by_half() -> None:
    first, placement = draw(Scene(noise=0.03, seed=1))
    second, _ = draw(Scene(noise=0.03, seed=2))
    share = agreement(photo_fingerprint(first, placement), photo_fingerprint(second, placement))
    assert abs(share - 0.5) < 5 * 0.5 / np.sqrt(BITS)


def test_exposure_does_not_change_it() -> None:
    photo, placement = draw(Scene(seed=1, exposure=0.5))
    darker = replace(photo, pixels=(photo.pixels * 0.8).round().astype(np.uint8))
    share = agreement(photo_fingerprint(photo, placement), photo_fingerprint(darker, placement))
    assert share > SAME
