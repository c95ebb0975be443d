"""A bone or a hand where it should not be."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.reference import known_sheets
from tests.synthetic.degraded.finger import SKIN, finger_shape
from tests.synthetic.degraded.picture import Picture, between, developed, soft_box

if TYPE_CHECKING:
    from numpy.random import Generator

    from tests.synthetic.degraded.picture import Scenery

REST = known_sheets()[0].rest_zone
FELT_LIGHT = 3.0  # times the rest's median light: above it is bone
FINGER_MM = 16.0


def bone_at_sheet(scenery: Scenery, _: Generator, severity: float) -> Picture:
    """The bone laid towards the sheet until it covers some of it."""
    return _moved(scenery, (-between(severity, 3.0, 60.0), 0.0))


def bone_off_rest(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """The bone partly beside the rest: over the wall, the table or the frame's edge."""
    far = between(severity, 5.0, 110.0)
    ways = ((far, 0.0), (0.0, -far), (0.7 * far, -0.7 * far))
    return _moved(scenery, ways[rng.integers(len(ways))])


def hand_on_rest(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """A hand that still holds the bone, or rests beside it."""
    tip = np.array([REST.x_mm + rng.uniform(20, 110), REST.y_mm + rng.uniform(30, 130)])
    direction = rng.uniform(-np.pi / 2, np.pi / 2)  # from the right, from above, from below
    along = np.array([np.cos(direction), np.sin(direction)])
    tip = tip + along * 40 * (1 - 2 * severity)
    light = scenery.light.copy()
    skin = SKIN * rng.uniform(0.5, 1.5) * float(np.quantile(scenery.light, 0.9))
    for finger in range(int(rng.integers(1, 5))):
        aside = np.array([-along[1], along[0]]) * 17 * (finger - 1)
        shape = finger_shape(scenery.mm, tip + aside + rng.uniform(-8, 8, 2), along, FINGER_MM, 1.0)
        light += shape[..., None] * (skin * rng.uniform(0.9, 1.1) - light)
    return developed(light)


def _moved(scenery: Scenery, by_mm: tuple[float, float]) -> Picture:
    """Take the bone off its place and set it down elsewhere."""
    zone = soft_box(
        scenery.mm,
        (REST.x_mm + 4, REST.y_mm + 4, REST.x_mm + REST.width_mm - 6, REST.y_mm + 128),
        0.5,
    )
    felt = np.median(scenery.light[zone > 0.99], axis=0)
    above = (scenery.light.max(axis=-1) > FELT_LIGHT * felt.max()) & (zone > 0.5)
    solid = cv2.morphologyEx(above.astype(np.uint8), cv2.MORPH_OPEN, np.ones((5, 5), np.uint8))
    bone = cv2.GaussianBlur(cv2.dilate(solid, np.ones((3, 3), np.uint8)).astype(np.float32),
                            (0, 0), 0.7)  # fmt: skip
    bare = scenery.light * (1 - bone[..., None]) + felt * bone[..., None]
    back = scenery.pixels_of(
        (scenery.mm - np.array(by_mm, dtype=np.float32)).reshape(-1, 2).astype(np.float64)
    )
    x, y = (back[:, axis].reshape(bone.shape).astype(np.float32) for axis in (0, 1))
    shape = cv2.remap(bone, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)[..., None]
    moved = cv2.remap(scenery.light, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return developed(bare * (1 - shape) + moved * shape)
