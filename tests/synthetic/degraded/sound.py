"""What a sound photo may look like: brighter, another white balance, a lens that bends a little."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from tests.synthetic.degraded.picture import Picture, developed

if TYPE_CHECKING:
    from numpy.random import Generator

    from tests.synthetic.degraded.picture import Scenery

MOST_GAIN = 1.5
MOST_BENDING = 0.012  # of the radius at the corner; phones correct their own to less
MOST_BALANCE = 1.25


def brighter(scenery: Scenery, _: Generator, severity: float) -> Picture:
    """Exposed by up to a half more, as far as the sheet's white stays below full scale."""
    white = float(np.quantile(scenery.light, 0.995))
    gain = min(1 + (MOST_GAIN - 1) * severity, max(0.9 / white, 1.0))
    return developed(scenery.light * gain)


def white_balanced(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """Another white balance of the camera, as far as no channel is clipped."""
    gains = MOST_BALANCE ** (severity * rng.uniform(-1, 1, 3))
    whites = np.quantile(scenery.light, 0.995, axis=(0, 1)) * gains
    return developed(scenery.light * (gains * min(1.0, 0.9 / float(whites.max()))))


def bent(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """A lens that bends lines outward or inward a little."""
    height, width = scenery.light.shape[:2]
    y, x = np.indices((height, width), dtype=np.float32)
    middle, reach = ((width - 1) / 2, (height - 1) / 2), np.hypot(width, height) / 2
    square = ((x - middle[0]) ** 2 + (y - middle[1]) ** 2) / reach**2
    factor = 1 + MOST_BENDING * severity * rng.choice([-1.0, 1.0]) * (square - 0.5)
    from_x = (middle[0] + (x - middle[0]) * factor).astype(np.float32)
    from_y = (middle[1] + (y - middle[1]) * factor).astype(np.float32)
    moved = cv2.remap(
        scenery.light, from_x, from_y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    )
    return developed(moved)


def passed_on(scenery: Scenery, _: Generator, severity: float) -> Picture:
    """Passed on by a messenger: 2048 to 1280 pixels wide, saved as JPEG of quality 85 to 70."""
    whole = developed(scenery.light)
    width = round(2048 - 768 * severity)
    height = round(whole.pixels.shape[0] * width / whole.pixels.shape[1])
    small = cv2.resize(whole.pixels, (width, height), interpolation=cv2.INTER_AREA)
    return Picture(pixels=np.asarray(small, dtype=np.uint8), jpeg_quality=round(85 - 15 * severity))
