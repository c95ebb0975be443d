"""Drops, dew, veils and mist on lens or jar, smear beside it: what becomes of the water's reading.

    python -m tests.benchmarks.jar_veils [seed [lamp ...]]

Each is drawn into the light of path-traced stands in lamps that no limit was chosen on. What is
good is printed line by line, then the shares of each kind.
"""

from __future__ import annotations

import sys

import cv2
import numpy as np

from greasecheck.model import Verdict
from tests.benchmarks.jar_shadow import Mask, Spoil, ellipse, places, results
from tests.benchmarks.water_lamps import OUTSIDE, Result, line, summary
from tests.synthetic.camera import Picture
from tests.synthetic.path_tracer.compose import PX_PER_MM
from tests.synthetic.path_tracer.series import FRESH, JUDGED
from tests.synthetic.path_tracer.stand import JAR

SEED = 20261130
BARS_MM = (90.0, 170.0)  # middle of the fine bars
HALF_MM = 140.5  # down to half of what lies under the fill line
DROP_EDGE_PX = 0.8  # softness of the edge of a drop on the glass
EDGE_MM = 2.0  # softness of a veil's edge


def drop_16mm(light: Picture, rng: np.random.Generator) -> Picture:
    """Lay a drop on the lens over the middle of the fine bars."""
    del rng  # always the same
    return seen_by_drop(light, BARS_MM, 8.0, 1.0)


def drop_30mm(light: Picture, rng: np.random.Generator) -> Picture:
    """Lay a large drop there."""
    del rng  # always the same
    return seen_by_drop(light, BARS_MM, 15.0, 1.0)


def drop(light: Picture, rng: np.random.Generator) -> Picture:
    """Lay a drop on the lens somewhere over the fine bars."""
    centre = rng.uniform(64, 116), rng.uniform(156, 184)
    return seen_by_drop(light, centre, rng.uniform(5, 12), rng.uniform(0.4, 1.5))


def veil_half(light: Picture, rng: np.random.Generator) -> Picture:
    """Veil the lower half of the jar by 8 %."""
    del rng  # always the same
    return veiled_below(light, HALF_MM, 0.08)


def veil(light: Picture, rng: np.random.Generator) -> Picture:
    """Veil the jar below any place from the shadow of its surface to the fine bars."""
    return veiled_below(light, rng.uniform(105, 170), rng.uniform(0.05, 0.15))


def mist_half(light: Picture, rng: np.random.Generator) -> Picture:
    """Mist the lower half of the jar."""
    del rng  # always the same
    return veiled_below(light, HALF_MM, 0.1, blur_mm=0.4)


def dew(light: Picture, rng: np.random.Generator) -> Picture:
    """Cover the jar below some line with drops of about a millimetre."""
    x, y = places(light)
    jar = (y > rng.uniform(70, 150)) & (x > JAR[0]) & (x < JAR[1])
    chance = rng.standard_normal(light.shape[:2])
    size_px = rng.uniform(0.25, 0.9) * PX_PER_MM
    heights = np.asarray(cv2.GaussianBlur(chance, (0, 0), size_px))
    inside = jar & (heights > np.quantile(heights[jar], 1 - rng.uniform(0.03, 0.25)))
    soft = np.asarray(cv2.GaussianBlur(inside.astype(np.float64), (0, 0), DROP_EDGE_PX))
    return over(light, soft, blurred(light, 2.0))


def smear_beside(light: Picture, rng: np.random.Generator) -> Picture:
    """Smear the lens before the dry fine bars, wholly or in part."""
    centre, half = (rng.uniform(165, 205), 170.0), (rng.uniform(14, 30), rng.uniform(12, 25))
    inside = ellipse(light, centre, half, 0.0, 3.0)
    return over(light, inside, blurred(light, rng.uniform(0.2, 0.5)))


def sharpened(light: Picture, rng: np.random.Generator) -> Picture:
    """Sharpen the bars behind the jar alone, by an unsharp mask."""
    del rng  # always the same
    inside = ellipse(light, (90.0, 157.0), (34.0, 34.0), 0.0, 1.0)
    return over(light, inside, np.maximum(1.6 * light - 0.6 * blurred(light, 0.3), 0))


KINDS: tuple[Spoil, ...] = (
    drop_16mm, drop_30mm, drop, veil_half, veil, mist_half, dew, smear_beside, sharpened
)  # fmt: skip


def seen_by_drop(
    light: Picture, centre_mm: tuple[float, float], radius_mm: float, blur_mm: float
) -> Picture:
    """Blur what is seen through a round drop with a soft edge."""
    inside = ellipse(light, centre_mm, (radius_mm, radius_mm), 0.0, radius_mm / 5)
    return over(light, inside, blurred(light, blur_mm))


def veiled_below(light: Picture, edge_mm: float, share: float, blur_mm: float = 0.0) -> Picture:
    """Veil the jar below a soft edge by a share of its own mean light there, and blur it."""
    x, y = places(light)
    inside = ((y > edge_mm) & (x > JAR[0]) & (x < JAR[1])).astype(np.float64)
    mean = light[inside > 0].mean(axis=0)
    seen = blurred(light, blur_mm) if blur_mm else light
    soft = np.asarray(cv2.GaussianBlur(inside, (0, 0), EDGE_MM * PX_PER_MM), np.float64)
    return over(light, soft, (1 - share) * seen + share * mean)


def blurred(light: Picture, blur_mm: float) -> Picture:
    """Blur by a Gaussian of that standard deviation."""
    return np.asarray(cv2.GaussianBlur(light, (0, 0), blur_mm * PX_PER_MM))


def over(light: Picture, mask: Mask, changed: Picture) -> Picture:
    """Put changed light where the mask is 1."""
    return np.asarray(light + mask[..., np.newaxis] * (changed - light), np.float32)


def main(seed: str = str(SEED), *lamps: str) -> None:
    """Print each reading that is good, then the shares of each kind."""
    found: list[Result] = []
    for lamp in lamps or [name for name in (*JUDGED, *FRESH) if name not in OUTSIDE]:
        for result in results(lamp, KINDS, int(seed)):
            found.append(result)
            if result.reading.verdict is Verdict.GOOD:
                print(line(result), flush=True)
    for kind in KINDS:
        print(summary(kind.__name__, [one for one in found if one.variant == kind.__name__]))


if __name__ == "__main__":
    main(*sys.argv[1:])
