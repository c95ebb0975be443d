"""Loads a photo file: pixels the right way up, time with zone, tone curves."""

from __future__ import annotations

import hashlib
import stat
from typing import TYPE_CHECKING, cast

import cv2
import numpy as np

from greasecheck.errors import PhotoError
from greasecheck.measure.photo_exif import camera_name, exposure_time, is_adobe_rgb, is_overlay
from greasecheck.measure.photo_header import DAMAGED, RETAKE_HINT, Header, read_header
from greasecheck.measure.photo_profile import (
    ADOBE_RGB_GAMMA,
    SAVE_HINT,
    gamma_transfer,
    profile_transfer,
    srgb_transfer,
)
from greasecheck.model import Photo

if TYPE_CHECKING:
    from datetime import tzinfo
    from pathlib import Path

    from cv2.typing import MatLike
    from numpy.typing import NDArray

MAX_BYTES = 400_000_000
SRGB_GAMMA = 0.45455  # PNG, third edition (W3C 2025), section 11.3.2.2: stands for sRGB
GAMMA_TOLERANCE = 0.01
FLIPS = {2: 1, 3: -1, 4: 0, 6: 1, 7: -1, 8: 0}  # cv2.flip's code by EXIF orientation


def load_photo(path: Path, default_zone: tzinfo | None = None) -> Photo:
    """Load a JPEG, HEIC, PNG, TIFF or WebP photo.

    Parameters
    ----------
    path : pathlib.Path
        A file; its content decides the kind, not its name.
    default_zone : datetime.tzinfo, optional
        Zone of a camera that records none; by default that of this computer.

    Returns
    -------
    Photo
        Upright, RGB, 8 or 16 bit, with the tone curves of its embedded profile or of sRGB.

    Raises
    ------
    PhotoError
        When the file cannot be read or used; each reason says what to do.
    """
    content = _read_bytes(path)
    header = read_header(path.name, content)
    if is_overlay(header.exif):
        raise PhotoError(
            f"{path.name}: it is a picture of what was found in a photo",
            hint="name the photo itself",
        )
    time = exposure_time(path, header.exif, default_zone)
    return Photo(
        path=path,
        sha256=hashlib.sha256(content).hexdigest(),
        pixels=_decode(path.name, header, content),
        taken_at=time.at,
        time_source=time.source,
        camera=camera_name(header.exif),
        transfer=_transfer(path.name, header),
    )


def _read_bytes(path: Path) -> bytes:
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            raise PhotoError(f"{path}: it is not a file", hint="name a photo or a folder of photos")
        if status.st_size > MAX_BYTES:
            raise PhotoError(
                f"{path.name}: it is larger than {MAX_BYTES // 1_000_000} MB",
                hint="take photos of 8 to 24 million pixels as JPEG",
            )
        content = path.read_bytes()
    except OSError as error:
        reason = error.strerror or str(error)
        raise PhotoError(f"{path}: it cannot be read: {reason}", hint="check its name") from error
    if not content:
        raise PhotoError(f"{path.name}: the file is empty", hint=RETAKE_HINT)
    return content


def _decode(name: str, header: Header, content: bytes) -> NDArray[np.uint8] | NDArray[np.uint16]:
    """Return upright RGB pixels."""
    pixels = _decode_heif(header) if header.heif is not None else _decode_cv2(header, content)
    size_px = {header.height_px, header.width_px}
    if pixels is None or set(pixels.shape[:2]) != size_px:
        raise PhotoError(f"{name}: its pixels are damaged or cut short", hint=RETAKE_HINT)
    upright = _upright(_without_alpha(name, pixels), header.orientation)
    return cast("NDArray[np.uint8] | NDArray[np.uint16]", upright)


def _decode_heif(header: Header) -> MatLike | None:
    try:
        pixels: MatLike = np.asarray(header.heif)
    except DAMAGED:
        return None
    return pixels


def _decode_cv2(header: Header, content: bytes) -> MatLike | None:
    """Decode to RGB or RGBA; only JPEG straight to RGB, which 16-bit TIFF gets wrong."""
    encoded = np.frombuffer(content, dtype=np.uint8)
    try:
        if header.kind in ("JPEG", "MPO"):
            flags = cv2.IMREAD_COLOR_RGB | cv2.IMREAD_IGNORE_ORIENTATION
            return cv2.imdecode(encoded, flags)
        pixels = cv2.imdecode(encoded, cv2.IMREAD_UNCHANGED)
        if pixels is None:
            return None
        swap = cv2.COLOR_BGR2RGB if pixels.shape[2:] == (3,) else cv2.COLOR_BGRA2RGBA
        return cv2.cvtColor(pixels, swap)
    except cv2.error:
        return None


def _without_alpha(name: str, pixels: MatLike) -> MatLike:
    if pixels.shape[2] == 3:
        return pixels
    opaque = 255 if pixels.dtype.itemsize == 1 else 65535
    if np.min(pixels[..., 3]) < opaque:
        raise PhotoError(f"{name}: parts of it are transparent", hint=SAVE_HINT)
    return cv2.cvtColor(pixels, cv2.COLOR_RGBA2RGB)


def _upright(pixels: MatLike, exif_orientation: int) -> MatLike:
    """Undo an EXIF orientation (CIPA DC-008-2023, section 4.6.5.1.6)."""
    turned = cv2.transpose(pixels) if exif_orientation >= 5 else pixels
    flip = FLIPS.get(exif_orientation)
    return turned if flip is None else cv2.flip(turned, flip)


def _transfer(name: str, header: Header) -> NDArray[np.float32]:
    if header.profile:
        return profile_transfer(name, header.profile)
    if is_adobe_rgb(header.exif):
        return gamma_transfer(ADOBE_RGB_GAMMA)
    if header.gamma and abs(header.gamma - SRGB_GAMMA) > GAMMA_TOLERANCE:
        return gamma_transfer(1 / header.gamma)
    return srgb_transfer()
