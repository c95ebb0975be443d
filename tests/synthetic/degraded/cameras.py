"""A bad camera or a phone's processing: blur, shake, compression, scaling, sharpening, tones."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from tests.synthetic.degraded.picture import Picture, between, developed

if TYPE_CHECKING:
    from numpy.random import Generator

    from tests.synthetic.degraded.picture import Scenery


def defocused(scenery: Scenery, _: Generator, severity: float) -> Picture:
    """Out of focus: every point becomes a disc."""
    radius = between(severity, 0.08, 4.0) * scenery.px_per_mm
    size = 2 * int(np.ceil(radius)) + 1
    y, x = np.mgrid[:size, :size] - size // 2
    disc = np.clip(radius + 0.5 - np.hypot(x, y), 0, 1)
    return developed(cv2.filter2D(scenery.light, -1, disc / disc.sum()))


def shaken(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """Camera moved during the exposure: every point becomes a line."""
    length = between(severity, 0.15, 8.0) * scenery.px_per_mm
    angle = rng.uniform(0, np.pi)
    size = 2 * int(np.ceil(length / 2)) + 3
    kernel = np.zeros((size, size))
    for step in np.linspace(-length / 2, length / 2, 4 * size):
        x, y = size // 2 + step * np.cos(angle), size // 2 + step * np.sin(angle)
        left, top = int(x), int(y)
        for column, row in ((left, top), (left + 1, top), (left, top + 1), (left + 1, top + 1)):
            kernel[row, column] += (1 - abs(x - column)) * (1 - abs(y - row))
    return developed(cv2.filter2D(scenery.light, -1, kernel / kernel.sum()))


def compressed(scenery: Scenery, _: Generator, severity: float) -> Picture:
    """Sent by a messenger that saves on bytes."""
    return developed(scenery.light, jpeg_quality=round(between(severity, 85, 4)))


def downsized(scenery: Scenery, _: Generator, severity: float) -> Picture:
    """Sent as a smaller picture."""
    whole = developed(scenery.light)
    factor = between(severity, 0.9, 0.15)
    small = cv2.resize(whole.pixels, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    return Picture(pixels=np.asarray(small, dtype=np.uint8))


def sharpened(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """Sharpened by the phone, with halos along every edge."""
    plain = developed(scenery.light).pixels.astype(np.float32)
    radius = between(rng.uniform(), 0.7, 8.0)
    amount = between(severity, 0.1, 3.0)
    crisp = plain + amount * (plain - cv2.GaussianBlur(plain, (0, 0), radius))
    return Picture(pixels=np.clip(np.round(crisp), 0, 255).astype(np.uint8))


def tone_mapped(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """Tones mapped locally by the phone: shadows lifted, details kept or strengthened."""
    plain = developed(scenery.light).pixels.astype(np.float32) / 255
    luma = plain @ np.array([0.299, 0.587, 0.114], dtype=np.float32)
    reach = between(rng.uniform(), 2.0, 40.0) * scenery.px_per_mm
    base = cv2.GaussianBlur(luma, (0, 0), reach)
    lift = between(severity, 0.02, 0.7)
    wanted = base * (1 - lift) + lift * float(base.mean())
    detail = 1 + rng.uniform(0, 1) * lift
    mapped = np.maximum(wanted + detail * (luma - base), 0) / np.maximum(luma, 1 / 255)
    pixels = np.clip(np.round(255 * plain * mapped[..., None]), 0, 255)
    return Picture(pixels=pixels.astype(np.uint8))
