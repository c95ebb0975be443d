"""Whether the camera smears colours, by the edges of the sheet's patches.

Phones smooth colour farther than brightness, to hide the noise of dim light. Narrow bars behind
coloured water then keep the contrast of their brightness in each channel, and red, which the water
takes least of, is read as murkier than it is.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.sheet.samples import boxes_points, sample_points
from greasecheck.model import Box

if TYPE_CHECKING:
    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.model import FloatArray, Photo, Placement

# Along each side of a patch: as deep as the light of a fine bar is taken from its edges.
EDGE_FROM_MM, EDGE_TO_MM = 0.5, 1.5
INSIDE_MM = 3.0  # from a patch's edges: smear that leaves bars any colour leaves most of it there
LEAST_SIDE_MM = 8.0  # of patches that are looked at
SAMPLES = 5  # along each side of a box
LEAST_COLOUR = 0.05  # root mean square of a patch's colour, paper white = 1: less shows nothing


def colour_lost(photo: Photo, placement: Placement, colour: ColourModel) -> float:
    """Return the share of their colour that patches lose along their edges.

    Beyond what they lose of their brightness there, as blur takes both alike; 0 where the photo
    shows no colours.
    """
    patches = tuple(box for box in placement.geometry.patches.values() if _is_wide(box))
    if not patches:
        return 0.0
    points = _points(patches)
    samples = sample_points(photo, placement, points)
    light = colour.scene_linear(samples.linear.mean(axis=1, dtype=np.float64))
    shades = (light / colour.illuminance(points.mean(axis=1))).reshape(len(patches), -1, 3)
    colours = shades[..., [0, 2]] - shades[..., [1]]
    if np.sqrt(np.mean(colours[:, 0] ** 2)) < LEAST_COLOUR:
        return 0.0
    return 1 - _kept_at_edges(colours) / _kept_at_edges(shades.mean(axis=-1, keepdims=True) - 1)


@lru_cache(maxsize=2)  # a sheet's patches are the same in all photos
def _points(patches: tuple[Box, ...]) -> FloatArray:
    """Return places in the parts of patches, shape (parts, samples, 2) [mm]."""
    boxes = [part for box in patches for part in _parts(box)]
    return boxes_points(boxes, SAMPLES, SAMPLES).reshape(len(boxes), -1, 2)


def _is_wide(box: Box) -> bool:
    return min(box.width_mm, box.height_mm) >= LEAST_SIDE_MM


def _parts(box: Box) -> tuple[Box, ...]:
    """Return the inside of a patch, then what lies along its four sides, without its corners."""
    left, top = box.x_mm, box.y_mm
    right, bottom = left + box.width_mm, top + box.height_mm
    wide, high = box.width_mm - 2 * INSIDE_MM, box.height_mm - 2 * INSIDE_MM
    deep = EDGE_TO_MM - EDGE_FROM_MM
    across, down = left + INSIDE_MM, top + INSIDE_MM
    return (
        Box(x_mm=across, y_mm=down, width_mm=wide, height_mm=high),
        Box(x_mm=across, y_mm=top + EDGE_FROM_MM, width_mm=wide, height_mm=deep),
        Box(x_mm=across, y_mm=bottom - EDGE_TO_MM, width_mm=wide, height_mm=deep),
        Box(x_mm=left + EDGE_FROM_MM, y_mm=down, width_mm=deep, height_mm=high),
        Box(x_mm=right - EDGE_TO_MM, y_mm=down, width_mm=deep, height_mm=high),
    )


def _kept_at_edges(signal: FloatArray) -> float:
    """Regress the edges of patches on their insides; paper = 0, shape (patches, 5, channels)."""
    inside, edges = signal[:, 0], signal[:, 1:].mean(axis=1)
    return float((edges * inside).sum() / (inside**2).sum())
