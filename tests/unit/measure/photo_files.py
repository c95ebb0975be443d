"""Writes small photo files of every kind for the tests."""

import struct
from datetime import UTC
from io import BytesIO
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from PIL.ExifTags import IFD, Base

from greasecheck.errors import PhotoError
from greasecheck.measure.photo.load import load_photo
from greasecheck.measure.photo.tone_profile import SAMPLES
from greasecheck.model import Photo

D50 = (0.9642, 1.0, 0.8249)  # the profile connection space's white; ICC.1:2022, section 7.2.16
P3_PRIMARIES = (
    (0.51512, 0.2412, -0.00105),
    (0.29198, 0.69225, 0.04189),
    (0.1571, 0.06657, 0.78407),
)
TIFF_SHORT, TIFF_LONG, TIFF_BYTE, TIFF_TEXT = 3, 4, 1, 2
TIFF_RATIONAL, TIFF_SIGNED_RATIONAL = 5, 10
COLOR_FILTER_ARRAY = 32803  # TIFF/EP photometric interpretation, Adobe DNG specification 1.7
IDENTITY = tuple(value for place in range(9) for value in (int(place % 4 == 0), 1))


def gradient(height: int = 40, width: int = 60, dtype: type = np.uint8) -> NDArray[Any]:
    """Each corner and channel differs, and all is smooth enough to survive JPEG."""
    full = np.iinfo(dtype).max
    down, across = np.mgrid[0:height, 0:width]
    red = 0.1 + 0.8 * across / (width - 1)
    green = 0.1 + 0.8 * down / (height - 1)
    blue = np.full_like(red, 0.3)
    pixels: NDArray[Any] = np.rint(np.stack([red, green, blue], axis=-1) * full).astype(dtype)
    return pixels


def exif_with(**tags: object) -> Image.Exif:
    """EXIF with tags by their names, in the part of the file where each belongs."""
    exif = Image.Exif()
    for name, value in tags.items():
        tag = Base[name]
        here = tag in (Base.Make, Base.Model, Base.Orientation)
        (exif if here else exif.get_ifd(IFD.Exif))[tag] = value
    return exif


def write_photo(path: Path, pixels: NDArray[Any], kind: str = "JPEG", **options: Any) -> Path:  # noqa: ANN401 - whatever the encoder takes
    """Write 8-bit pixels with Pillow."""
    buffer = BytesIO()
    if kind == "JPEG":
        options = {"quality": 98, "subsampling": 0, **options}
    Image.fromarray(pixels).save(buffer, kind, **options)
    path.write_bytes(buffer.getvalue())
    return path


def write_deep(path: Path, pixels: NDArray[np.uint16]) -> Path:
    """Write 16-bit RGB pixels; the suffix decides the kind."""
    encoded = cv2.imencode(path.suffix, cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR))[1]
    path.write_bytes(encoded.tobytes())
    return path


def write_dng(path: Path, light: NDArray[np.uint16]) -> Path:
    """Write light behind a mosaic of red, green, green and blue filters."""
    import tifffile  # noqa: PLC0415 - only these write raw files

    mosaic = light[..., 1].copy()
    mosaic[0::2, 0::2], mosaic[1::2, 1::2] = light[0::2, 0::2, 0], light[1::2, 1::2, 2]
    tags = (
        (50706, TIFF_BYTE, 4, (1, 4, 0, 0), True),  # DNGVersion
        (50708, TIFF_TEXT, 0, "Acme Snap", True),  # UniqueCameraModel
        (33421, TIFF_SHORT, 2, (2, 2), True),  # CFARepeatPatternDim
        (33422, TIFF_BYTE, 4, (0, 1, 1, 2), True),  # CFAPattern
        (50717, TIFF_LONG, 1, (65535,), True),  # WhiteLevel
        (50721, TIFF_SIGNED_RATIONAL, 9, IDENTITY, True),  # ColorMatrix1
        (50728, TIFF_RATIONAL, 3, (1, 1) * 3, True),  # AsShotNeutral
        (50778, TIFF_SHORT, 1, (21,), True),  # CalibrationIlluminant1: D65
        (271, TIFF_TEXT, 0, "Acme", True),
        (272, TIFF_TEXT, 0, "Snap", True),
    )
    buffer = BytesIO()
    with tifffile.TiffWriter(buffer) as file:
        file.write(mosaic, photometric=COLOR_FILTER_ARRAY, extratags=tags, metadata=None)
    path.write_bytes(buffer.getvalue())
    return path


def heic(path: Path, pixels: NDArray[np.uint8], **options: object) -> Path:
    """Write 8-bit pixels as HEIC."""
    import pillow_heif  # noqa: PLC0415 - only these tests encode HEIC

    picture = pillow_heif.from_pillow(Image.fromarray(pixels))
    picture.save(path, quality=95, chroma=444, **options)
    return path


def load(path: Path) -> Photo:
    """Load a photo whose camera records no zone as taken in UTC."""
    return load_photo(path, UTC)


def refusal(path: Path) -> PhotoError:
    """The error, with the file's name in it, that loading a photo raises."""
    with pytest.raises(PhotoError) as caught:
        load(path)
    assert path.name in caught.value.problem
    return caught.value


def icc_profile(
    *curves: bytes, space: bytes = b"RGB ", extra: tuple[tuple[bytes, bytes], ...] = ()
) -> bytes:
    """A matrix profile with Display P3 primaries and one tone curve, or three."""
    three = curves * 3 if len(curves) == 1 else curves
    tags = [
        (b"wtpt", _xyz(D50)),
        *zip((b"rXYZ", b"gXYZ", b"bXYZ"), map(_xyz, P3_PRIMARIES), strict=True),
        *zip((b"rTRC", b"gTRC", b"bTRC"), three, strict=False),
        *extra,
    ]
    offset = 132 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    for signature, content in tags:
        table += signature + struct.pack(">II", offset + len(body), len(content))
        body += content + bytes(-len(content) % 4)
    size = offset + len(body)
    head = struct.pack(">I4sI", size, b"none", 0x04300000) + b"mntr" + space + b"XYZ "
    head += bytes(12) + b"acsp" + bytes(128 - len(head) - 16)
    return head + table + body


def curve_table(*entries: int) -> bytes:
    """A curveType tag: a table of 16-bit entries, one gamma in 1/256, or none."""
    return b"curv" + bytes(4) + struct.pack(f">I{len(entries)}H", len(entries), *entries)


def curve_formula(kind: int, *parameters: float) -> bytes:
    """A parametricCurveType tag."""
    fixed = [round(parameter * 65536) for parameter in parameters]
    return b"para" + bytes(4) + struct.pack(f">HH{len(fixed)}i", kind, 0, *fixed)


SRGB_CURVE = curve_formula(3, 2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)


def levels() -> NDArray[np.float64]:
    """Device values, 0 to 1, that transfer curves are given at."""
    return np.linspace(0, 1, SAMPLES)


def _xyz(values: tuple[float, float, float]) -> bytes:
    return b"XYZ " + bytes(4) + struct.pack(">3i", *(round(value * 65536) for value in values))
