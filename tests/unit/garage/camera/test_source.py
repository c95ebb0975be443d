"""Which picture of a camera counts, how it is opened, and when it shows nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.garage.camera import source
from greasecheck.garage.camera.source import NoPictureError, take_picture

if TYPE_CHECKING:
    from collections.abc import Iterable


class Frames:
    """A device that gives some frames, None for one that it misses."""

    def __init__(self, frames: Iterable[np.ndarray | None]) -> None:
        self.frames = iter(frames)

    def isOpened(self) -> bool:  # noqa: N802 - OpenCV's name
        return True

    def set(self, _prop: int, _value: float, /) -> bool:
        return True

    def read(self) -> tuple[bool, np.ndarray]:
        frame = next(self.frames, None)
        return frame is not None, np.zeros((2, 2, 3), np.uint8) if frame is None else frame

    def release(self) -> None:
        pass


def frame(light: float, contrast: float) -> np.ndarray:
    """Return a frame of two halves, this much darker and lighter than their mean."""
    picture = np.full((40, 60, 3), light - contrast, np.uint8)
    picture[:, 30:] = light + contrast
    return picture


def test_the_exposure_settles_before_the_picture_counts() -> None:
    frames = [frame(30 + 10 * number, 20) for number in range(source.WARM_UP_FRAMES - 1)]
    picture = take_picture("0", lambda _: Frames([*frames, None]))
    assert picture.mean() == frames[-1].mean()


@pytest.mark.parametrize(("light", "contrast"), [(6.0, 5.0), (120.0, 1.0)])
def test_a_dark_garage_and_a_covered_lens_give_no_picture(light: float, contrast: float) -> None:
    frames = [frame(light, contrast)] * source.WARM_UP_FRAMES
    with pytest.raises(NoPictureError, match="dark or empty"):
        take_picture("0", lambda _: Frames(frames))


def test_a_camera_has_a_number_and_a_stream_an_address(monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[int | str] = []
    monkeypatch.setattr("cv2.VideoCapture", opened.append)
    source.open_device("2")
    source.open_device("rtsp://camera/1")
    assert opened == [2, "rtsp://camera/1"]
