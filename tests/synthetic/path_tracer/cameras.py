"""Cameras for the path-traced stand: tone curves, local tone mapping, denoising, noise, JPEG."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from greasecheck.reference.srgb import srgb_of_linear
from tests.synthetic.path_tracer.compose import PX_PER_MM

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

Picture = NDArray[np.float32]

MAKE, FOCAL_LENGTH_MM = "Path tracer", 6.8
CROSSTALK = np.array([[0.94, 0.05, 0.01], [0.04, 0.92, 0.04], [0.01, 0.05, 0.94]])
PAPER_LEVEL = 0.72  # of full scale, that the brightest paper is exposed to
LEAST_LIGHT = 2e-3  # of a logarithm


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """How a camera develops light.

    `local` is the share of the base layer's contrast that local tone mapping takes away and
    `radius_mm` the Gaussian width of that layer; `edges` keeps its edges. `denoise` is the range
    of a bilateral filter in codes of 0 to 1. `clarity` lifts local contrast over 5 mm.
    """

    name: str
    curve: float = 0.05
    local: float = 0.0
    radius_mm: float = 14.0
    edges: bool = False
    denoise: float = 0.0
    clarity: float = 0.0
    sharpen: float = 0.0
    gains: tuple[float, float, float] = (1.0, 1.0, 1.0)
    exposure: float = 1.0
    electrons: float = 9000.0
    blur_px: float = 0.65
    quality: int = 90


def photograph(light: Picture, camera: Camera, seed: int) -> NDArray[np.uint8]:
    """Return the 8-bit picture of linear light."""
    seen = cv2.GaussianBlur(light, (0, 0), camera.blur_px) @ CROSSTALK.T.astype(np.float32)
    level = np.percentile(seen[..., 1], 99) / (PAPER_LEVEL * camera.exposure)
    exposed = np.clip(seen / level * np.array(camera.gains, np.float32), 0, 1.2)
    rng = np.random.default_rng(seed)
    noise = rng.normal(0, 1, exposed.shape) * np.sqrt(exposed / camera.electrons + 3e-7)
    developed = _mapped(np.maximum(exposed + noise, 0).astype(np.float32), camera)
    codes = _encoded(developed, camera.curve)
    if camera.denoise:
        codes = np.asarray(cv2.bilateralFilter(codes, 7, camera.denoise, 2.0), np.float32)
    if camera.sharpen:
        codes = codes + camera.sharpen * (codes - cv2.GaussianBlur(codes, (0, 0), 1.2))
    return np.asarray(np.rint(np.clip(codes, 0, 1) * 255), dtype=np.uint8)


def _mapped(light: Picture, camera: Camera) -> Picture:
    """Take contrast from the base layer, and lift that of the detail."""
    if not (camera.local or camera.clarity):
        return light
    log = np.log(light.mean(axis=-1) + LEAST_LIGHT)
    gain = np.zeros_like(log)
    if camera.local:
        base = _base(log, camera.radius_mm * PX_PER_MM, edges=camera.edges)
        gain -= camera.local * (base - np.percentile(base, 80))
    if camera.clarity:
        gain += camera.clarity * (log - _base(log, 5 * PX_PER_MM, edges=False))
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


def _encoded(light: Picture, curve: float) -> Picture:
    """Return sRGB codes with an S of the given strength."""
    code = srgb_of_linear(np.clip(light, 0, 1))
    return np.asarray(code - curve * np.sin(2 * np.pi * code) / np.pi, dtype=np.float32)


def save(picture: NDArray[np.uint8], camera: Camera, taken_at: datetime, path: Path) -> None:
    """Write the picture as JPEG with a camera's EXIF tags; `taken_at` is in UTC."""
    exif = Image.Exif()
    exif[0x010F], exif[0x0110], exif[0x0112] = MAKE, camera.name, 1
    details = exif.get_ifd(0x8769)
    details[0x9003] = taken_at.strftime("%Y:%m:%d %H:%M:%S")
    details[0x9011] = "+00:00"
    details[0x920A] = FOCAL_LENGTH_MM
    Image.fromarray(picture).save(path, quality=camera.quality, subsampling=0, exif=exif)
