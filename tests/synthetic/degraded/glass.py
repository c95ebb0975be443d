"""A jar whose glass is not clean: smeared by fingers, scratched."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from tests.synthetic.degraded.picture import between, developed, soft_box, soft_step

if TYPE_CHECKING:
    from numpy.random import Generator

    from tests.synthetic.degraded.picture import Picture, Scenery

SCRATCH_MM = 0.25


def smear(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """Grease of fingers on the glass: part of the light is spread wide, part of it a little."""
    left, top, right, bottom = scenery.jar
    middle = rng.uniform((left, top), (right, bottom))
    half = np.array([rng.uniform(8, 25), rng.uniform(8, 40)])
    away = np.linalg.norm((scenery.mm - middle.astype(np.float32)) / half, axis=-1)
    where = soft_step(1 - away, 0.6) * soft_box(scenery.mm, scenery.jar, 1.0)
    wide = cv2.GaussianBlur(scenery.light, (0, 0), 20 * scenery.px_per_mm)
    near = cv2.GaussianBlur(scenery.light, (0, 0), 0.8 * scenery.px_per_mm)
    share = between(severity, 0.05, 0.7)
    smeared = (1 - share) * (0.4 * near + 0.6 * scenery.light) + share * wide
    return developed(scenery.light + where[..., None] * (smeared - scenery.light))


def film(scenery: Scenery, _: Generator, severity: float) -> Picture:
    """Smear or mist all over the glass: what is behind it is blurred a little and veiled."""
    jar = soft_box(scenery.mm, scenery.jar, 1.0)[..., None]
    mean = (scenery.light * jar).sum(axis=(0, 1)) / jar.sum(axis=(0, 1))
    sigma = between(severity, 0.1, 0.6) * scenery.px_per_mm
    blurred = cv2.GaussianBlur(scenery.light, (0, 0), sigma)
    veil = between(severity, 0.02, 0.1)
    seen = (1 - veil) * blurred + veil * mean
    return developed(scenery.light + jar * (seen - scenery.light))


def scratches(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """Fine bright lines on the glass, from few to very many."""
    left, top, right, bottom = scenery.jar
    lines = np.zeros(scenery.light.shape[:2], np.float32)
    for _ in range(round(between(severity, 2, 120))):
        start = rng.uniform((left, top), (right, bottom))
        way = rng.uniform(0, np.pi)
        length = rng.uniform(5, 40)
        ends = scenery.pixels_of(
            np.array([start, start + length * np.array([np.cos(way), np.sin(way)])])
        )
        first, last = (tuple(np.round(end).astype(int).tolist()) for end in ends)
        width = max(round(SCRATCH_MM * scenery.px_per_mm), 1)
        cv2.line(lines, first, last, float(rng.uniform(0.2, 0.8)), width, cv2.LINE_AA)
    lines = lines * soft_box(scenery.mm, scenery.jar, 0.5)
    white = np.quantile(scenery.light, 0.95, axis=(0, 1))
    return developed(scenery.light + lines[..., None] * (0.7 * white - scenery.light))
