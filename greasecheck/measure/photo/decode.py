"""Decodes a photo's pixels strictly: what is damaged is refused or pointed out, never filled in."""

from __future__ import annotations

import os
import warnings
from contextlib import contextmanager
from functools import partial
from io import BytesIO
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, cast

import cv2
import numpy as np
import simplejpeg
from PIL import Image

from greasecheck.errors import PhotoError
from greasecheck.measure.photo.file import RETAKE_HINT
from greasecheck.measure.photo.header import DAMAGED, RAW_KIND, Header
from greasecheck.measure.photo.raw import develop
from greasecheck.measure.photo.tone_profile import SAVE_HINT

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cv2.typing import MatLike
    from numpy.typing import NDArray

    Device = NDArray[np.uint8] | NDArray[np.uint16]

STDERR = 2  # file descriptor
STDERR_IN_USE = Lock()  # two threads that changed it at once would lose it
FLIPS = {2: 1, 3: -1, 4: 0, 6: 1, 7: -1, 8: 0}  # cv2.flip's code by EXIF orientation
HARMLESS = "Invalid SOS parameters"  # some phones' JPEGs; the decoder ignores these values
REDUCTIONS = (8, 4, 2)  # of width and height; libjpeg decodes these from fewer frequencies
JPEG_HINT = RETAKE_HINT + "; if this camera's photos are always refused so, convert them to PNG"


def decode(name: str, header: Header, content: bytes, least_side_px: int | None = None) -> Device:
    """Decode a photo's pixels.

    Parameters
    ----------
    name : str
        File name, for messages.
    header : Header
        Its header, from `read_header`.
    content : bytes
        All of the file.
    least_side_px : int, optional
        A JPEG may come reduced, its longest side no shorter than this [px].

    Returns
    -------
    ndarray, shape (height, width, 3), uint8 or uint16
        R, G, B, upright.

    Raises
    ------
    PhotoError
        When the decoder finds the pixels damaged or cut short, or they are in part transparent.
    """
    factor = reduction(header, least_side_px)
    pixels = _pixels(name, header, content, factor)
    size_px = {-(-side // factor) for side in (header.height_px, header.width_px)}
    if pixels is None or set(pixels.shape[:2]) != size_px:
        hint = JPEG_HINT if header.is_jpeg else RETAKE_HINT
        raise PhotoError(f"{name}: its pixels are damaged or cut short", hint=hint)
    upright = _upright(_without_alpha(name, pixels), header.orientation)
    return cast("Device", upright)


def reduction(header: Header, least_side_px: int | None) -> int:
    """Return by how much a photo can be reduced so that its longest side keeps so many pixels."""
    longest = max(header.width_px, header.height_px)
    usable = header.is_jpeg and least_side_px is not None
    return next((by for by in REDUCTIONS if usable and longest >= by * (least_side_px or 1)), 1)


def _pixels(name: str, header: Header, content: bytes, factor: int) -> MatLike | None:
    """Return R, G, B and perhaps alpha as stored; None when they are damaged."""
    try:
        if header.is_jpeg:
            return _decoded_jpeg(header, content, factor)
        if header.heif is not None:
            return np.asarray(header.heif)
        if header.kind == RAW_KIND:
            return develop(name, content)
        if header.kind != "TIFF" and not header.deep:
            return _decoded_plain(header, content)
        with STDERR_IN_USE, _silence():
            return _decoded_deep(content) if header.deep else _decoded_plain(header, content)
    except (*DAMAGED, cv2.error):
        return None


def _decoded_jpeg(header: Header, content: bytes, factor: int) -> MatLike | None:
    size_px = simplejpeg.decode_jpeg_header(content, strict=False)[:2]
    if size_px != (header.height_px, header.width_px):
        return None
    height, width = (-(-side // factor) for side in size_px)
    decoded = partial(
        simplejpeg.decode_jpeg, content, "RGB", min_height=height, min_width=width, min_factor=1
    )
    try:
        pixels: MatLike = decoded()
    except ValueError as error:
        if HARMLESS not in str(error):
            raise
        pixels = decoded(strict=False)
    return pixels


def _decoded_plain(header: Header, content: bytes) -> MatLike:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # Pillow's doubts about odd EXIF and large pictures
        with Image.open(BytesIO(content), formats=[header.kind]) as image:
            keyed = "transparency" in image.info  # one colour stands for transparent
            return np.asarray(image.convert("RGBA") if keyed else image)


def _decoded_deep(content: bytes) -> MatLike | None:
    """Decode 16 bits, which Pillow does not."""
    pixels = cv2.imdecode(np.frombuffer(content, dtype=np.uint8), cv2.IMREAD_UNCHANGED)
    if pixels is None:
        return None
    swap = cv2.COLOR_BGR2RGB if pixels.shape[2:] == (3,) else cv2.COLOR_BGRA2RGBA
    return cv2.cvtColor(pixels, swap)


@contextmanager
def _silence() -> Iterator[None]:
    """Keep the process's standard error from C libraries, which write their complaints there."""
    try:
        kept = os.dup(STDERR)
    except OSError:  # a program without a terminal has none
        yield
        return
    try:
        with Path(os.devnull).open("wb") as nowhere:
            os.dup2(nowhere.fileno(), STDERR)
        yield
    finally:
        os.dup2(kept, STDERR)
        os.close(kept)


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
