from __future__ import annotations

import cv2
import numpy as np
import pytest

from greasecheck.measure.ladder.tag import read_tub
from greasecheck.print.ladder import draw_ladder_png
from greasecheck.reference.ladder.plate import dip_ladder

PX_PER_MM = 3.0


def seen(
    tub: int | None, *, high: float = 1.0, blur_px: float = 0.0
) -> tuple[np.ndarray, np.ndarray]:
    """Return a plate's picture, pressed flat and blurred, and its homography."""
    drawn = draw_ladder_png(dip_ladder(), tub, PX_PER_MM * 25.4)[:, :, 1]
    flat = cv2.resize(drawn, None, fx=1.0, fy=high, interpolation=cv2.INTER_AREA)
    if blur_px:
        flat = cv2.GaussianBlur(flat, (0, 0), blur_px)
    return np.asarray(flat), np.diag([PX_PER_MM, PX_PER_MM * high, 1.0])


@pytest.mark.parametrize("tub", [1, 9, 10, 12, 49, 50, 137, 200])
def test_a_tag_is_read_flat_and_blurred(tub: int) -> None:
    assert read_tub(*seen(tub)) == tub
    assert read_tub(*seen(tub, high=0.3, blur_px=1.5)) == tub


def test_a_plate_without_a_tag_is_of_no_tub() -> None:
    assert read_tub(*seen(None)) is None


def test_a_tag_that_is_lost_in_blur_is_of_no_tub() -> None:
    assert read_tub(*seen(137, high=0.3, blur_px=9.0)) is None
