"""Tone curves of a photo: those of its embedded ICC profile, or of sRGB."""

from __future__ import annotations

import hashlib
import struct
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import PhotoError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import FloatArray

SAMPLES = 4 * 255 + 1  # holds each 8-bit level exactly
ADOBE_RGB_GAMMA = 563 / 256  # Adobe RGB (1998) Color Image Encoding, section 4.3.1.2
CURVE_TAGS = (b"rTRC", b"gTRC", b"bTRC")
HDR_TRANSFERS = {16: "PQ", 18: "HLG"}  # ITU-T H.273, table 3
CHANNEL_DIFFERENCE = 0.05  # the profiles of cameras have one curve for all channels
BLACK_TO, WHITE_FROM = 0.3, 0.8
MIDDLE = (0.12, 0.52)  # linear light of half the device value, for gamma 3 to 1
PARAMETERS = (1, 3, 4, 5, 7)  # by function type; ICC.1:2022, table 68
SAVE_HINT = "save or export the photo as a JPEG in sRGB"


@cache
def srgb_transfer() -> NDArray[np.float32]:
    """Return the sRGB curves, shape (1021, 3), read-only (IEC 61966-2-1:1999)."""
    return _three(_parametric(3, np.array([2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045])))


@cache
def gamma_transfer(gamma: float) -> NDArray[np.float32]:
    """Return curves of a pure power, shape (1021, 3), read-only."""
    return _three(_parametric(0, np.array([gamma])))


def profile_transfer(name: str, profile: bytes) -> NDArray[np.float32]:
    """Return the tone curves of an ICC profile.

    Parameters
    ----------
    name : str
        The photo's file name, for messages.
    profile : bytes
        An embedded profile of the matrix/TRC kind for RGB.

    Returns
    -------
    ndarray, shape (1021, 3), float32
        Linear light, 0 to 1, at evenly spaced device values.

    Raises
    ------
    PhotoError
        When the profile is damaged, not for RGB, or has no tone curves.

    References
    ----------
    ICC.1:2022, sections 7.2, 7.3, 10.6 (curveType) and 10.18 (parametricCurveType).
    """
    try:
        return _transfer(name, profile)
    except (struct.error, ValueError, IndexError) as error:
        raise PhotoError(f"{name}: its colour profile is damaged", hint=SAVE_HINT) from error


def _transfer(name: str, profile: bytes) -> NDArray[np.float32]:
    space = profile[16:20].decode("latin-1").strip()
    if space != "RGB":
        raise PhotoError(f"{name}: its colour profile is for {space}, not RGB", hint=SAVE_HINT)
    tags = _tags(profile)
    refuse_hdr(name, tags.get(b"cicp", bytes(10))[9])
    if not all(tag in tags for tag in CURVE_TAGS):
        raise PhotoError(f"{name}: its colour profile has no tone curves", hint=SAVE_HINT)
    with np.errstate(all="ignore"):  # impossible parameters show in the curve
        curves = np.column_stack([_curve(tags[tag]) for tag in CURVE_TAGS])
        rises = np.diff(curves, axis=0)
    if not np.isfinite(curves).all() or (rises < 0).any() or (rises.sum(axis=0) <= 0).any():
        raise ValueError("a tone curve does not rise")  # reported as a damaged profile
    clipped = np.clip(curves, 0, 1)
    if not _is_plausible(clipped) or _fails_checksum(profile):
        raise ValueError("no camera's tone curves")  # reported as a damaged profile
    return clipped.astype(np.float32)


def _is_plausible(curves: FloatArray) -> bool:
    """Whether the channels agree, and run from black to white like a gamma between 1 and 3."""
    alike = np.ptp(curves, axis=1).max() <= CHANNEL_DIFFERENCE
    ends = curves[0].max() <= BLACK_TO and curves[-1].min() >= WHITE_FROM
    middle = float(curves[SAMPLES // 2].mean())
    return bool(alike and ends and MIDDLE[0] <= middle <= MIDDLE[1])


def _fails_checksum(profile: bytes) -> bool:
    """Whether the profile states an ID that is not its own (ICC.1:2022, section 7.2.18)."""
    stated = profile[84:100]
    blanked = profile[:44] + bytes(4) + profile[48:64] + bytes(4) + profile[68:84] + bytes(16)
    digest = hashlib.md5(blanked + profile[100:], usedforsecurity=False).digest()
    return any(stated) and stated != digest


def refuse_hdr(name: str, transfer_characteristics: int) -> None:
    """Raise PhotoError when a photo is coded for high dynamic range displays."""
    if transfer_characteristics in HDR_TRANSFERS:
        raise PhotoError(
            f"{name}: it is coded for HDR ({HDR_TRANSFERS[transfer_characteristics]})",
            hint="turn HDR off in the camera's settings, or " + SAVE_HINT,
        )


def _tags(profile: bytes) -> dict[bytes, bytes]:
    (count,) = struct.unpack_from(">I", profile, 128)
    tags = {}
    for entry in range(min(count, 100)):
        signature, offset, size = struct.unpack_from(">4sII", profile, 132 + 12 * entry)
        tags[signature] = profile[offset : offset + size]
    return tags


def _curve(tag: bytes) -> FloatArray:
    if tag[:4] == b"para":
        (kind,) = struct.unpack_from(">H", tag, 8)
        fixed = np.frombuffer(tag, dtype=">i4", count=PARAMETERS[kind], offset=12)
        return _parametric(kind, fixed / 65536)
    if tag[:4] != b"curv":
        raise ValueError("an unknown kind of tone curve")  # reported as a damaged profile
    (count,) = struct.unpack_from(">I", tag, 8)
    entries = np.frombuffer(tag, dtype=">u2", count=count, offset=12)
    if count <= 1:
        return _parametric(0, entries / 256 if count else np.ones(1))
    return np.interp(_levels(), np.linspace(0, 1, count), entries / 65535)


def _parametric(kind: int, parameters: FloatArray) -> FloatArray:
    """Evaluate a parametric curve: (a x + b)^g + e from d upwards, c x + f below."""
    g, a, b, c, d, e, f = np.pad(parameters, (0, 7 - len(parameters)))
    x = _levels()
    if kind == 0:
        a, d = 1.0, 0.0
    if kind in (1, 2):  # the power runs from -b/a, the constant c is added throughout
        shift = c if kind == 2 else 0.0
        c, d, e, f = 0.0, -b / a, shift, shift
    curve: FloatArray = np.where(x >= d, np.maximum(a * x + b, 0) ** g + e, c * x + f)
    return curve


def _levels() -> FloatArray:
    return np.linspace(0, 1, SAMPLES)


def _three(curve: FloatArray) -> NDArray[np.float32]:
    curves = np.repeat(curve[:, np.newaxis], 3, axis=1).astype(np.float32)
    curves.setflags(write=False)
    return curves
