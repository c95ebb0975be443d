"""Reads the sheet's patches and paper windows out of a photo."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.measure.sampling import CLIPPED_HIGH, CLIPPED_LOW, sheet_to_pixels

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import Box, FloatArray, PatchValues, Photo, Placement

    Device = NDArray[np.uint8] | NDArray[np.uint16]
    BoolArray = NDArray[np.bool_]

INSET_SHARE = 0.15  # of the shorter side, left out on each side of a box
GRID = 32  # samples along each side of a box
TRIM_SHARE = 0.1  # of the samples, left out at each end
USABLE_SHARE = 0.9  # of a box's samples must be unclipped
PAPER = "paper"  # name of the bare paper among the patch values
TWIN = re.compile(r"(.*\d)[a-z]")  # N1a and N1b are one colour printed twice


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetColours:
    """Colours read off the sheet: n patches and windows of bare paper.

    Attributes
    ----------
    names : tuple of str
        The patch's name, or "paper".
    stems : ndarray, shape (n,), int
        Equal for patches of one colour, and for all paper.
    xyz : ndarray, shape (n, 3)
        What they should be: CIE XYZ (D65/2), Y of the perfect diffuser = 100.
    points_mm : ndarray, shape (n, 2)
        Their centres [mm].
    linear : ndarray, shape (n, 3)
        Trimmed mean in linear light by the photo's transfer curves, 0 to 1.
    bright_share, dark_share, unseen_share : ndarray, shape (n,)
        Shares of the samples at the top of the scale in any channel, at its bottom in every
        channel, and outside the photo.
    usable : ndarray, shape (n,), bool
        Those that lie inside the scale in each channel, by and large.
    out_of_gamut : ndarray, shape (n,), bool
        Those of vivid colour that only lie at the bottom of the scale in one or two channels.
    """

    names: tuple[str, ...]
    stems: NDArray[np.int64]
    xyz: FloatArray
    points_mm: FloatArray
    linear: FloatArray
    bright_share: FloatArray
    dark_share: FloatArray
    unseen_share: FloatArray
    usable: BoolArray
    out_of_gamut: BoolArray

    @property
    def paper(self) -> BoolArray:
        """Return which are windows of bare paper."""
        return np.array([name == PAPER for name in self.names])


def read_sheet_colours(photo: Photo, placement: Placement, values: PatchValues) -> SheetColours:
    """Average the light of each patch that has a value and a place, and of the paper windows.

    Parameters
    ----------
    photo : Photo
        The decoded photo.
    placement : Placement
        Where the sheet is in it.
    values : PatchValues
        Colours of the patches; paper counts as white when they do not give it.
    """
    geometry = placement.geometry
    patches = tuple(name for name in values.names if name in geometry.patches)
    names = patches + (PAPER,) * len(geometry.paper_windows)
    boxes = tuple(geometry.patches[name] for name in patches) + geometry.paper_windows
    device, seen = _device_samples(photo, placement, boxes)
    high = device >= CLIPPED_HIGH * photo.full_scale
    low = device <= CLIPPED_LOW * photo.full_scale
    spoiled = high.any(axis=2) | low.all(axis=2) | ~seen
    usable = _mostly(~(spoiled | low.any(axis=2)))
    return SheetColours(
        names=names,
        stems=_stems(names),
        xyz=np.array([values.of(name) for name in names]),
        points_mm=np.array([box.centre_mm for box in boxes]),
        linear=_trimmed_mean(_linear_light(photo, device)),
        bright_share=(high.any(axis=2) & seen).mean(axis=1),
        dark_share=(low.all(axis=2) & seen).mean(axis=1),
        unseen_share=1 - seen.mean(axis=1),
        usable=usable,
        out_of_gamut=_mostly(~spoiled) & ~usable,
    )


def _mostly(good: BoolArray) -> BoolArray:
    return np.asarray(good.mean(axis=1) > USABLE_SHARE)


def _stems(names: tuple[str, ...]) -> NDArray[np.int64]:
    matches = [TWIN.fullmatch(name) for name in names]
    stems = [match[1] if match else name for match, name in zip(matches, names, strict=True)]
    return np.unique(stems, return_inverse=True)[1].astype(np.int64)


def _device_samples(
    photo: Photo, placement: Placement, boxes: tuple[Box, ...]
) -> tuple[Device, BoolArray]:
    """Device values, shape (n, GRID * GRID, 3), and which samples lie inside the photo."""
    inset = [box.inset(INSET_SHARE * min(box.width_mm, box.height_mm)) for box in boxes]
    corner = np.array([[box.x_mm, box.y_mm] for box in inset])
    size = np.array([[box.width_mm, box.height_mm] for box in inset])
    steps = (np.arange(GRID) + 0.5) / GRID
    unit = np.stack(np.meshgrid(steps, steps), axis=-1).reshape(1, -1, 2)
    points = corner[:, None] + unit * size[:, None]
    pixels = sheet_to_pixels(placement, points.reshape(-1, 2)).reshape(points.shape)
    height, width = photo.pixels.shape[:2]
    inside = (pixels >= 0) & (pixels <= [width - 1, height - 1])
    maps = pixels.astype(np.float32)
    device: Device = cv2.remap(photo.pixels, maps[..., 0], maps[..., 1], cv2.INTER_LINEAR)  # type: ignore[assignment]  # it keeps the kind of the photo's pixels
    return device, np.asarray(inside.all(axis=2))


def _linear_light(photo: Photo, device: Device) -> NDArray[np.float32]:
    scale = np.linspace(0, photo.full_scale, len(photo.transfer))
    levels = np.arange(photo.full_scale + 1)
    table = [np.interp(levels, scale, curve).astype(np.float32) for curve in photo.transfer.T]
    return np.stack([table[c][device[..., c]] for c in range(3)], axis=-1)


def _trimmed_mean(linear: NDArray[np.float32]) -> FloatArray:
    cut = round(TRIM_SHARE * linear.shape[1])
    ordered = np.sort(linear, axis=1)[:, cut : linear.shape[1] - cut]
    return np.asarray(ordered.mean(axis=1, dtype=np.float64))
