"""Takes single pictures from a camera at this computer or a stream on the network."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

import cv2
import numpy as np

from greasecheck.errors import PhotoError

if TYPE_CHECKING:
    from collections.abc import Callable

    from cv2.typing import MatLike
    from numpy.typing import NDArray

WARM_UP_FRAMES = 8  # in which a camera settles its exposure; with half of them some stay dark
DARKEST = 12.0  # mean of 255 below which it is night
FLATTEST = 3.0  # standard deviation below which a picture shows nothing: a covered lens
SETTINGS = (
    (cv2.CAP_PROP_FRAME_WIDTH, 3840),
    (cv2.CAP_PROP_FRAME_HEIGHT, 2160),  # a device gives the most it can
)


class Device(Protocol):
    """What OpenCV's VideoCapture does."""

    def isOpened(self) -> bool:  # noqa: N802 - OpenCV's name
        """Return whether it delivers."""
        ...

    def set(self, prop: int, value: float, /) -> bool:
        """Ask for a property."""
        ...

    def read(self) -> tuple[bool, MatLike]:
        """Return whether there is a frame, and the frame in B, G, R."""
        ...

    def release(self) -> None:
        """Give the device back."""
        ...


class NoPictureError(PhotoError):
    """The camera gives no picture that can be used now."""


def open_device(address: str) -> Device:
    """Open a camera by its number, or a stream by its address."""
    return cv2.VideoCapture(int(address) if address.isdecimal() else address)


def take_picture(address: str, opened: Callable[[str], Device] = open_device) -> NDArray[np.uint8]:
    """Take one picture; the device is opened for it and given back, so that it may be unplugged.

    Parameters
    ----------
    address : str
        Number of a camera, such as "0", or the address of a stream, such as rtsp://...
    opened : callable
        Opens a device.

    Returns
    -------
    ndarray, shape (height, width, 3), uint8
        In R, G, B.

    Raises
    ------
    NoPictureError
        When the device is gone, gives nothing, or it is night.
    """
    device = opened(address)
    try:
        frame = _last_frame(address, device)
    finally:
        device.release()
    grey = frame.mean(axis=2)
    if grey.mean() < DARKEST or grey.std() < FLATTEST:
        raise NoPictureError(
            "the camera's picture is dark or empty", hint="leave a light on, uncover the lens"
        )
    return np.ascontiguousarray(frame[:, :, ::-1])


def _last_frame(address: str, device: Device) -> NDArray[np.uint8]:
    if not device.isOpened():
        raise NoPictureError(
            f"the camera {address} is not there", hint="plug it in, or check the stream's address"
        )
    for prop, value in SETTINGS:
        device.set(prop, value)
    last: MatLike | None = None
    for _ in range(WARM_UP_FRAMES):
        given, frame = device.read()
        last = frame if given else last
    if last is None or last.ndim != 3:
        raise NoPictureError(
            f"the camera {address} gives no picture", hint="plug it in anew, close other programs"
        )
    return np.asarray(last, dtype=np.uint8)
