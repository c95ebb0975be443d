"""The camera before every scene that is rendered in linear light: lens, sensor, development."""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from greasecheck.reference.srgb import srgb_of_linear

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from numpy.typing import ArrayLike

Picture = NDArray[np.float32]
Light = NDArray[Any]  # of either float
Matrix = tuple[tuple[float, float, float], ...]

LEAST_LIGHT = 2e-3  # of a logarithm
SHARPENED_PX = 1.2
LUMA = np.array([0.299, 0.587, 0.114], np.float32)  # ITU-R BT.601
EXIF_IFD, EXIF_TIME, EXIF_OFFSET, EXIF_FOCAL_LENGTH = 0x8769, 0x9003, 0x9011, 0x920A
FOCAL_LENGTH_MM = 6.8


def straight(light: Light) -> Light:
    """Return light as it is: no tone curve beside that of sRGB."""
    return light


def shouldered(light: Light, lift: float, power: float, shoulder: float) -> Light:
    """Apply a maker's curve: brighter middle tones, shoulder and toe."""
    bent = (lift * np.clip(light, 0, 1.2)) ** power
    return np.asarray(bent / (1 + shoulder * bent))


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """How a camera takes light and develops it; full scale of its sensor is 1.

    Photos of a camera without a name do not tell of one. `blur_px`, `base_px` and `clarity_px` are
    standard deviations of Gaussians. `response` is raw R, G, B from linear R, G, B, by rows, and
    `colour` the way back, white balance included. `vignetting` is the share of light lost in the
    corners. `noise` is that of the photons at full scale, which falls with the root of the light,
    `dark_noise` what is left without light. `tone` makes light as developed from light as exposed,
    `curve` is the strength of an S on top of sRGB. `local` is the share of the base layer's
    contrast that local tone mapping takes away; `edges` keeps its edges; `clarity` is the share by
    which contrast within `clarity_px` is lifted. `denoise` is the range of a bilateral filter, in
    codes of 0 to 1, `smear_px` the standard deviation of a Gaussian over the colours alone,
    `saturation` what these are multiplied by, and `sharpen` the strength of an unsharp mask.
    """

    name: str = ""
    make: str = ""
    blur_px: float = 0.65
    response: Matrix | None = None
    colour: Matrix | None = None
    vignetting: float = 0.0
    noise: float = 0.01054
    dark_noise: float = 5.5e-4
    tone: Callable[[Light], Light] = straight
    curve: float = 0.0
    local: float = 0.0
    base_px: float = 60.0
    edges: bool = False
    clarity: float = 0.0
    clarity_px: float = 22.5
    denoise: float = 0.0
    smear_px: float = 0.0
    saturation: float = 1.0
    sharpen: float = 0.0
    quality: int = 90
    subsampling: str = "4:2:0"


def metered(light: Light, camera: Camera, percentile: float, level: float) -> float:
    """Return the exposure that puts a percentile of raw green at a level of full scale."""
    return level / float(np.percentile(_on_sensor(light, camera)[..., 1], percentile))


def expose(
    light: Light, camera: Camera, exposure: ArrayLike, seed: int | np.random.Generator
) -> NDArray[np.uint8]:
    """Return the 8-bit picture of linear light, shape (rows, columns, 3).

    Parameters
    ----------
    light : ndarray, shape (rows, columns, 3)
        Any unit.
    camera : Camera
        The camera.
    exposure : array_like
        From that unit to full scale, for all colours or each.
    seed : int or Generator
        Of the noise.
    """
    exposed = _on_sensor(light, camera) * np.asarray(exposure, np.float32)
    exposed = np.maximum(exposed * (1 - camera.vignetting * _off_axis(light.shape)), 0)
    chance = np.random.default_rng(seed).standard_normal(exposed.shape).astype(np.float32)
    raw = exposed + chance * np.sqrt(exposed * camera.noise**2 + camera.dark_noise**2)
    developed = np.maximum(_through(raw, camera.colour), 0)
    codes = encoded(_mapped(camera.tone(developed), camera), camera.curve)
    if camera.denoise:
        codes = np.asarray(cv2.bilateralFilter(codes, 7, camera.denoise, 2.0), np.float32)
    if camera.smear_px or camera.saturation != 1:
        codes = _recoloured(codes, camera)
    if camera.sharpen:
        codes = codes + camera.sharpen * (codes - cv2.GaussianBlur(codes, (0, 0), SHARPENED_PX))
    return np.asarray(np.rint(np.clip(codes, 0, 1) * 255), dtype=np.uint8)


def _recoloured(codes: Picture, camera: Camera) -> Picture:
    """Smear what colours differ by from their brightness, and multiply it."""
    bright = (codes @ LUMA)[..., None]
    colours = codes - bright
    if camera.smear_px:
        colours = cv2.GaussianBlur(colours, (0, 0), camera.smear_px)
    return np.asarray(bright + camera.saturation * colours, np.float32)


def encoded(light: Light, curve: float) -> Picture:
    """Return the codes, 0 to 1, of light: sRGB with an S of the given strength."""
    code = np.asarray(srgb_of_linear(np.clip(light, 0, 1)), dtype=np.float32)
    return code - curve * np.sin(2 * np.pi * code) / np.pi if curve else code


def jpeg(picture: NDArray[np.uint8], camera: Camera, taken_at: datetime | None = None) -> bytes:
    """Return the file of a picture; its EXIF holds what is known of camera and time."""
    exif = Image.Exif()
    details = exif.get_ifd(EXIF_IFD)
    if camera.name:
        exif[0x010F], exif[0x0110], exif[0x0112] = camera.make, camera.name, 1
        details[EXIF_FOCAL_LENGTH] = FOCAL_LENGTH_MM
    if taken_at is not None:
        details[EXIF_TIME] = f"{taken_at:%Y:%m:%d %H:%M:%S}"
        details[EXIF_OFFSET] = taken_at.isoformat()[-6:]
    file = BytesIO()
    Image.fromarray(picture).save(
        file, "JPEG", quality=camera.quality, subsampling=camera.subsampling, exif=exif
    )
    return file.getvalue()


def _on_sensor(light: Light, camera: Camera) -> Light:
    seen = cv2.GaussianBlur(light, (0, 0), camera.blur_px) if camera.blur_px else light
    return _through(seen, camera.response)


def _through(light: Light, matrix: Matrix | None) -> Light:
    return light if matrix is None else light @ np.array(matrix, np.float32).T


def _off_axis(shape: tuple[int, ...]) -> Picture:
    """Return the square of the way from the middle, 1 in the corners, shape (rows, columns, 1)."""
    down, across = (np.linspace(-1, 1, size, dtype=np.float32) for size in shape[:2])
    return np.asarray((down[:, None] ** 2 + across**2)[..., None] / 2)


def _mapped(light: Light, camera: Camera) -> Picture:
    """Take contrast from the base layer, and lift that of the detail."""
    if not (camera.local or camera.clarity):
        return light
    log = np.log(light.mean(axis=-1) + LEAST_LIGHT)
    gain = np.zeros_like(log)
    if camera.local:
        base = _base(log, camera.base_px, edges=camera.edges)
        gain -= camera.local * (base - np.percentile(base, 80))
    if camera.clarity:
        gain += camera.clarity * (log - _base(log, camera.clarity_px, edges=False))
    return np.asarray(light * np.exp(gain)[..., None], dtype=np.float32)


def _base(log: Picture, width_px: float, *, edges: bool) -> Picture:
    step = max(int(width_px / 6), 1)
    size = log.shape[1] // step, log.shape[0] // step
    small = cv2.resize(log, size, interpolation=cv2.INTER_AREA)
    if edges:
        small = cv2.bilateralFilter(small, 0, 0.4, width_px / step)
    else:
        small = cv2.GaussianBlur(small, (0, 0), width_px / step)
    return np.asarray(
        cv2.resize(small, (log.shape[1], log.shape[0]), interpolation=cv2.INTER_LINEAR)
    )
