"""The shape and the colour of a finger."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tests.synthetic.degraded.picture import soft_step

if TYPE_CHECKING:
    from tests.synthetic.degraded.picture import Light

SKIN = np.array([0.42, 0.24, 0.16], dtype=np.float32)  # reflectance, invented


def finger_shape(
    mm: Light, tip: np.ndarray, along: np.ndarray, width_mm: float, edge_mm: float
) -> Light:
    """Return the shape of a finger that lies from its tip along a direction without end."""
    away = mm - tip.astype(np.float32)
    forth = away @ along.astype(np.float32)
    aside = away @ np.array([-along[1], along[0]], dtype=np.float32)
    distance = np.hypot(np.minimum(forth - width_mm / 2, 0), aside)
    return soft_step(width_mm / 2 - distance, edge_mm)
