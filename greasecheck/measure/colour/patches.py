"""Reads the sheet's patches and paper windows out of a photo."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.colorimetry import lab_from_xyz
from greasecheck.measure.sheet.samples import boxes_points, sample_points
from greasecheck.reference.cie import WHITES
from greasecheck.reference.patches.values import PAPER, TWIN

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from greasecheck.model import BoolArray, Box, FloatArray, PatchValues, Photo, Placement

# Without a source, where none is named; the comment beside each value states what it does.
INSET_SHARE = 0.15  # of the shorter side, left out on each side of a box
GRID = 32  # samples along each side of a box
TRIM_SHARE = 0.1  # of the samples, left out at each end
USABLE_SHARE = 0.9  # of a box's samples must be unclipped
NEUTRAL_CHROMA = 6.0  # CIELAB chroma up to which a patch serves the tone curve
BONE_CHROMA = (3.0, 50.0)  # CIELAB chroma and hue of bone, from ivory to greasy brown
ANY_WHITE = np.array(WHITES["D65"])  # stands for paper that nobody measured
BONE_HUE_DEG = (55.0, 100.0)  # from greasy red-brown to greenish ivory, in CIELAB hue


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
    known : ndarray, shape (n,), bool
        Those whose `xyz` is known: all but bare paper that nobody measured.
    neutral : ndarray, shape (n,), bool
        Those that should be grey or white, paper among them.
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
    known: BoolArray
    neutral: BoolArray
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

    def distinct(self, which: BoolArray) -> int:
        """Return how many different colours are among some, shape (n,), bool."""
        return int(np.count_nonzero(np.bincount(self.stems[which])))


def read_sheet_colours(photo: Photo, placement: Placement, values: PatchValues) -> SheetColours:
    """Average the light of each patch that has a value and a place, and of the paper windows.

    Parameters
    ----------
    photo : Photo
        The decoded photo.
    placement : Placement
        Where the sheet is in it.
    values : PatchValues
        Colours of the patches and of the paper.

    """
    geometry = placement.geometry
    patches = tuple(name for name in values.names if name in geometry.patches)
    names = patches + (PAPER,) * len(geometry.paper_windows)
    boxes = tuple(geometry.patches[name] for name in patches) + geometry.paper_windows
    spots = sample_points(photo, placement, _spots(boxes))
    bright, dark = spots.bright, spots.dark
    usable = _mostly(spots.unclipped)
    known = np.array([name in values.names for name in names])
    xyz = np.array([values.of(name) if name in values.names else ANY_WHITE for name in names])
    return SheetColours(
        names=names,
        stems=_stems(names),
        xyz=xyz,
        known=known,
        neutral=known & is_neutral(xyz),
        points_mm=np.array([box.centre_mm for box in boxes]),
        linear=_trimmed_mean(spots.linear),
        bright_share=bright.mean(axis=1),
        dark_share=dark.mean(axis=1),
        unseen_share=1 - spots.seen.mean(axis=1),
        usable=usable,
        out_of_gamut=_mostly(spots.seen & ~bright & ~dark) & ~usable,
    )


def is_neutral(xyz: FloatArray) -> BoolArray:
    """Return which colours, XYZ of shape (n, 3), are grey or white."""
    return np.asarray(_chroma_hue(xyz)[0] <= NEUTRAL_CHROMA)


def is_bone_tone(xyz: FloatArray) -> BoolArray:
    """Return which colours, XYZ of shape (n, 3), a bone may have."""
    chroma, hue = _chroma_hue(xyz)
    in_chroma = (chroma >= BONE_CHROMA[0]) & (chroma <= BONE_CHROMA[1])
    return np.asarray(in_chroma & (hue >= BONE_HUE_DEG[0]) & (hue <= BONE_HUE_DEG[1]))


def _chroma_hue(xyz: FloatArray) -> tuple[FloatArray, FloatArray]:
    lab = lab_from_xyz(xyz)
    return np.hypot(lab[:, 1], lab[:, 2]), np.degrees(np.arctan2(lab[:, 2], lab[:, 1]))


def _spots(boxes: Sequence[Box]) -> FloatArray:
    """Places in each box, away from its edges, shape (boxes, places, 2) [mm]."""
    inner = [box.inset(INSET_SHARE * min(box.width_mm, box.height_mm)) for box in boxes]
    return boxes_points(inner, GRID, GRID).reshape(len(boxes), -1, 2)


def _mostly(good: BoolArray) -> BoolArray:
    return np.asarray(good.mean(axis=1) > USABLE_SHARE)


def _stems(names: tuple[str, ...]) -> NDArray[np.int64]:
    matches = [TWIN.fullmatch(name) for name in names]
    stems = [match[1] if match else name for match, name in zip(matches, names, strict=True)]
    number = {stem: place for place, stem in enumerate(sorted(set(stems)))}
    return np.array([number[stem] for stem in stems], dtype=np.int64)


def _trimmed_mean(linear: NDArray[np.float32]) -> FloatArray:
    cut = round(TRIM_SHARE * linear.shape[1])
    ordered = np.sort(np.ascontiguousarray(np.swapaxes(linear, 1, 2)))  # quick along a row
    return np.asarray(ordered[..., cut : linear.shape[1] - cut].mean(axis=-1, dtype=np.float64))
