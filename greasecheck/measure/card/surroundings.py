"""Samples the whole picture around a card, in colours under the light on the card."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.measure.colorimetry import LEAST_LUMINANCE, WHITE_D65
from greasecheck.measure.sheet.lens import undistort
from greasecheck.measure.sheet.samples import device_samples, sheet_to_pixels

if TYPE_CHECKING:
    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.model import BoolArray, FloatArray, Photo, Placement

LONGEST_SIDE = 1280  # samples; twice as many cost four times the time for outlines half as coarse
FINE_SIDE = 1600  # of a picture whose bone is small in it
PAPER_MM = 5.0  # around the card's printed area, its paper as people cut it
LIGHT_REACH = 1.5  # half cards beyond the card's edge to which its light is carried on
GRID = 24  # cells along each side on which light and scale are worked out


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """The picture around a card, each array shaped (rows, columns).

    Attributes
    ----------
    step_px : float
        Pixels of the photo as decoded from one sample to the next, both ways.
    whole_px : float
        Pixels of the whole photo from one sample to the next.
    xyz : ndarray, shape (rows, columns, 3)
        CIE XYZ (D65/2), Y of the perfect diffuser = 100.
    lab : ndarray, shape (rows, columns, 3), float32
        CIELAB by cube roots alone: its straight dark end does not matter here.
    unclipped : ndarray, bool
        Inside the scale in every channel.
    on_card : ndarray, bool
        The card with the paper around its print.
    mm2 : ndarray
        Area that each sample stands for in the card's plane [mm2].
    beyond : ndarray
        Distance from the card's edge in half widths of the card.
    """

    step_px: float
    whole_px: float
    xyz: FloatArray
    lab: FloatArray
    unclipped: BoolArray
    on_card: BoolArray
    mm2: FloatArray
    beyond: FloatArray

    @property
    def lightness(self) -> FloatArray:
        """Return CIELAB L*."""
        return self.lab[..., 0]


def look_around(
    photo: Photo, placement: Placement, colour: ColourModel, longest_side: int = LONGEST_SIDE
) -> Surroundings:
    """Sample the whole picture; the light beyond the card goes on as at its edge.

    Its longest side is taken in at most so many samples, none of them finer than a pixel.
    """
    rows, columns = photo.pixels.shape[:2]
    step = max(max(rows, columns) / longest_side, 1.0)
    size = round(columns / step), round(rows / step)
    samples = device_samples(photo, cv2.resize(photo.pixels, size, interpolation=cv2.INTER_AREA))
    coarse_mm = _coarse_places(placement, (columns, rows))
    light = colour.illuminance(_near_card(coarse_mm, placement)).reshape(GRID, GRID, 3)
    even = colour.scene_of(samples) / cv2.resize(light, size)
    xyz = np.maximum(colour.to_xyz(even), LEAST_LUMINANCE)
    return Surroundings(
        step_px=step,
        whole_px=step * photo.reduced_by,
        xyz=xyz,
        lab=_lab(xyz),
        unclipped=samples.unclipped,
        on_card=_card_mask(placement, size, step),
        mm2=_sample_areas(coarse_mm, size),
        beyond=np.asarray(cv2.resize(_beyond(coarse_mm, placement), size), dtype=np.float64),
    )


def _coarse_places(placement: Placement, size_px: tuple[int, int]) -> FloatArray:
    """Places on the card's plane of a coarse grid over the picture, shape (GRID * GRID, 2) [mm]."""
    x, y = ((np.arange(GRID) + 0.5) * side / GRID - 0.5 for side in size_px)
    pixels = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    ideal = pixels if placement.lens is None else undistort(pixels, placement.lens)
    inverse = np.linalg.inv(placement.homography)
    return np.asarray(cv2.perspectiveTransform(ideal[np.newaxis], inverse)[0])


def _near_card(points_mm: FloatArray, placement: Placement) -> FloatArray:
    """Pull points that lie far from the card to where its light is still known."""
    size = np.array([placement.geometry.width_mm, placement.geometry.height_mm])
    reach = LIGHT_REACH * size / 2
    return np.asarray(np.clip(points_mm, -reach, size + reach))


def _beyond(points_mm: FloatArray, placement: Placement) -> FloatArray:
    size = np.array([placement.geometry.width_mm, placement.geometry.height_mm])
    outside = np.maximum(np.maximum(-points_mm, points_mm - size), 0)
    return np.asarray(np.hypot(*(outside / size.max() * 2).T).reshape(GRID, GRID))


def _sample_areas(coarse_mm: FloatArray, size: tuple[int, int]) -> FloatArray:
    """Area of each sample in the card's plane, by the coarse grid's own cells [mm2]."""
    grid = coarse_mm.reshape(GRID, GRID, 2)
    down, across = (np.asarray(np.gradient(grid, axis=axis)) for axis in range(2))
    cells = np.abs(across[..., 0] * down[..., 1] - across[..., 1] * down[..., 0])
    return np.asarray(cv2.resize(cells, size) * GRID**2 / (size[0] * size[1]))


def _card_mask(placement: Placement, size: tuple[int, int], step: float) -> BoolArray:
    width, height = placement.geometry.width_mm, placement.geometry.height_mm
    low, right, lower = -PAPER_MM, width + PAPER_MM, height + PAPER_MM
    corners = np.array([[low, low], [right, low], [right, lower], [low, lower]])
    outline = (sheet_to_pixels(placement, corners) + 0.5) / step - 0.5
    canvas = np.zeros(size[::-1], np.uint8)
    return np.asarray(cv2.fillConvexPoly(canvas, np.rint(outline).astype(np.int32), (1,)) > 0)


def _lab(xyz: FloatArray) -> FloatArray:
    x, y, z = np.moveaxis(np.cbrt(xyz / WHITE_D65).astype(np.float32), -1, 0)
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)
