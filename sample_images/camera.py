"""Turns linear light into a photograph: sensitivities, lens, noise, tone curve, JPEG, EXIF."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from PIL import Image as PillowImage

from greasecheck.reference.srgb import srgb_of_linear

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

    import numpy.typing as npt

    Image = npt.NDArray[Any]

SENSITIVITY = np.array(  # camera raw R, G, B from linear R, G, B; invented, typical in crosstalk
    [[0.72, 0.25, 0.03], [0.20, 0.70, 0.10], [0.02, 0.22, 0.76]]
)
UNMIXING = 0.92  # share of the crosstalk that the camera's own colour matrix takes back
VIGNETTING = 0.14  # loss in the corner of the frame
BLUR_PX = 0.65
CONTRAST = 0.05  # strength of the S in the tone curve
FULL_WELL_E = 16000.0
READ_NOISE_E = 5.0
JPEG_QUALITY = 90
BALANCE = (1.0, 0.875, 0.765)  # the usual light on the sheet; the white balance is fixed
MAKE, MODEL = "Garage Optics", "GO-16"
FOCAL_LENGTH_MM = 6.8
OFFSET_TIME_ORIGINAL, DATE_TIME_ORIGINAL = 0x9011, 0x9003
EXIF_IFD = 0x8769


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """Settings of one exposure.

    Attributes
    ----------
    exposure : float
        Factor from linear light to the share of the full well.
    balance : tuple of float
        White balance: the linear R, G, B that the camera makes grey.
    taken_at : datetime
        Zone-aware time for the EXIF tags.
    seed : int
        Of the noise.
    """

    exposure: float
    balance: tuple[float, float, float]
    taken_at: datetime
    seed: int


def photograph(light: Image, shot: Shot) -> npt.NDArray[np.uint8]:
    """Return the 8-bit picture of linear light, shape (rows, columns, 3)."""
    blurred = cv2.GaussianBlur(light.astype(np.float64), (0, 0), BLUR_PX)
    raw = blurred @ SENSITIVITY.T * shot.exposure * _falloff(light.shape)[..., None]
    grey = SENSITIVITY @ np.array(shot.balance)
    balanced = _noisy(raw, shot.seed) / (grey / grey.max())
    matrix = UNMIXING * np.linalg.inv(_rows_to_one(SENSITIVITY)) + (1 - UNMIXING) * np.eye(3)
    return np.round(255 * tone(np.clip(balanced @ matrix.T, 0, 1))).astype(np.uint8)


def tone(linear: Image) -> Image:
    """Return the tone-mapped value [0..1] of linear light [0..1]: sRGB with a slight S."""
    encoded = srgb_of_linear(linear)
    toned: Image = encoded - CONTRAST * np.sin(2 * np.pi * encoded) / np.pi
    return toned


def save(picture: npt.NDArray[np.uint8], shot: Shot, path: Path) -> None:
    """Write the picture as JPEG with the EXIF tags of a camera."""
    exif = PillowImage.Exif()
    exif[0x010F], exif[0x0110] = MAKE, MODEL
    exif[0x0112] = 1
    details = exif.get_ifd(EXIF_IFD)
    details[DATE_TIME_ORIGINAL] = shot.taken_at.strftime("%Y:%m:%d %H:%M:%S")
    offset = shot.taken_at.strftime("%z")
    details[OFFSET_TIME_ORIGINAL] = f"{offset[:3]}:{offset[3:]}"
    details[0x920A] = FOCAL_LENGTH_MM
    PillowImage.fromarray(picture).save(
        path, quality=JPEG_QUALITY, subsampling="4:2:0", optimize=True, exif=exif
    )


def _noisy(raw: Image, seed: int) -> Image:
    rng = np.random.default_rng(seed)
    electrons = rng.poisson(np.maximum(raw, 0) * FULL_WELL_E)
    return (electrons + rng.normal(0, READ_NOISE_E, raw.shape)) / FULL_WELL_E


def _falloff(shape: tuple[int, ...]) -> Image:
    rows, columns = shape[:2]
    y, x = np.mgrid[:rows, :columns]
    reach = np.hypot(rows / 2, columns / 2)
    falloff: Image = 1 - VIGNETTING * ((x - columns / 2) ** 2 + (y - rows / 2) ** 2) / reach**2
    return falloff


def _rows_to_one(matrix: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    unit: npt.NDArray[np.float64] = matrix / matrix.sum(axis=1, keepdims=True)
    return unit
