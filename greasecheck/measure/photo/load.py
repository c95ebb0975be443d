"""Loads a photo file: pixels the right way up, time with zone, tone curves."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from greasecheck.errors import PhotoError
from greasecheck.measure.photo.decode import decode, reduction
from greasecheck.measure.photo.exif import (
    camera_name,
    exposure_time,
    focal_35mm,
    is_adobe_rgb,
    is_overlay,
)
from greasecheck.measure.photo.file import read_photo_file
from greasecheck.measure.photo.header import Header, read_header
from greasecheck.measure.photo.tone_profile import (
    ADOBE_RGB_GAMMA,
    gamma_transfer,
    profile_transfer,
    srgb_transfer,
)
from greasecheck.model import Photo

if TYPE_CHECKING:
    from datetime import tzinfo
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray

SRGB_GAMMA = 0.45455  # PNG, third edition (W3C 2025), section 11.3.2.2: stands for sRGB
GAMMA_TOLERANCE = 0.01


def load_photo(
    path: Path, default_zone: tzinfo | None = None, least_side_px: int | None = None
) -> Photo:
    """Load a JPEG, HEIC, PNG, TIFF, WebP or raw photo.

    Parameters
    ----------
    path : pathlib.Path
        A file; its content decides the kind, not its name.
    default_zone : datetime.tzinfo, optional
        Zone of a camera that records none; by default that of this computer.
    least_side_px : int, optional
        A JPEG may come reduced, its longest side no shorter than this [px].

    Returns
    -------
    Photo
        Upright, RGB, 8 or 16 bit, with the tone curves of its embedded profile or of sRGB.

    Raises
    ------
    PhotoError
        When the file cannot be read or used; each reason comes with what to do.
    """
    content = read_photo_file(path)
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
        pixels=decode(path.name, header, content, least_side_px),
        taken_at=time.at,
        time_source=time.source,
        camera=camera_name(header.exif),
        transfer=_transfer(path.name, header),
        reduced_by=reduction(header, least_side_px),
        focal_35mm=focal_35mm(header.exif),
    )


def _transfer(name: str, header: Header) -> NDArray[np.float32]:
    if header.profile:
        return profile_transfer(name, header.profile)
    if is_adobe_rgb(header.exif):
        return gamma_transfer(ADOBE_RGB_GAMMA)
    if header.gamma and abs(header.gamma - SRGB_GAMMA) > GAMMA_TOLERANCE:
        return gamma_transfer(1 / header.gamma)
    return srgb_transfer()
