"""Cuts what stands out from the cloth into pieces and finds which may be bone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
from skimage.filters import sobel
from skimage.measure import label, regionprops
from skimage.segmentation import watershed

from greasecheck.errors import BoneError
from greasecheck.measure.bone.yellowness import bone_like, lit_colour
from greasecheck.measure.card.cloth_hue import HALFWAY, NEAR, hue_towards_bone
from greasecheck.measure.card.masks import grown, holding, shrunk
from greasecheck.measure.card.pattern import MOST_RUNS, runs_at_rim
from greasecheck.measure.colorimetry import lab_from_xyz
from greasecheck.measure.robust import percentiles
from greasecheck.model import LeftOutReason

if TYPE_CHECKING:
    from collections.abc import Iterator

    from skimage.measure._regionprops import RegionProperties

    from greasecheck.measure.card.cloth import Cloth
    from greasecheck.measure.card.surroundings import Surroundings
    from greasecheck.model import BoolArray, FloatArray

# Seeds of what stands out and of cloth: lightness above the fitted cloth, in steps of L* and in
# standard deviations of the cloth. Between the two the watershed decides. Wider apart, shaded
# bone is lost to the cloth; closer, folds become bone.
BRIGHT_L, BRIGHT_STDS = 12.0, 6.0
CLOTH_L, CLOTH_STDS = 4.0, 2.5
SURE_SHADOW_L = 8.0  # cloth this much darker than in the open is surely cloth, in a shadow
CLEAR = 3  # samples that JPEGs of half the colour's resolution take the bone's hue beyond its rim
EDGE_SIGMA = 0.8  # samples of smoothing before the gradient; one loses thin arches
COLOUR_SHARE = 0.5  # of the gradient that a* and b* may add to that of lightness
# A shrew's skull covers about 100: of no bone the largest piece covers less than half of that, of
# none that counts less than a quarter.
LEAST_LARGEST_MM2, LEAST_AREA_MM2 = 50.0, 25.0
LEAST_SHARE = 0.02  # of the largest piece; smaller pieces are crumbs
CORNERS = np.ix_([0, -1], [0, -1])  # of the picture: what fills one is table or wall
BACKGROUND_CONTACT = 0.5  # of a whole side of the picture: a table, a wall, not a skull cut off
PAPER_L, PAPER_CHROMA = 78.0, 8.0  # of what lies against the card and is its own paper
# It was left along a side of the card, whole or as a wedge with half its own outline there; three
# quarters of a short side are left of a side seen askew. A skull is round: of one of 20 mm, at 2
# samples to the mm, a third of half its outline touches.
PAPER_CONTACT = 0.6
SHORT_SIDE = 0.2  # of the card's outline


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One connected piece of what stands out.

    Attributes
    ----------
    mask : ndarray, shape (rows, columns), bool
        Where it is in the picture's samples.
    area_mm2 : float
        Its area in the card's plane [mm2].
    solidity : float
        Its area over that of its convex hull.
    reason : LeftOutReason or None
        Why it is no bone; None for bone.
    """

    mask: BoolArray
    area_mm2: float
    solidity: float
    reason: LeftOutReason | None


def told_by_hue(around: Surroundings, cloth: Cloth) -> FloatArray | None:
    """Return how bone-like each sample's hue is, as `hue_towards_bone` does for what is bright."""
    return hue_towards_bone(around, cloth, _bright(around, cloth))


def standing_out(around: Surroundings, cloth: Cloth, hue: FloatArray | None) -> BoolArray:
    """Grow seeds of cloth and of what is brighter until they meet at the strongest edges.

    Parameters
    ----------
    around : Surroundings
        The picture in the card's light.
    cloth : Cloth
        The cloth's lightness.
    hue : ndarray, shape (rows, columns), or None
        From `told_by_hue`; where None, lightness and edges alone decide.

    Returns
    -------
    ndarray, shape (rows, columns), bool
    """
    above = around.lightness - cloth.lightness
    bright = _bright(around, cloth)
    dark = above < max(CLOTH_L, CLOTH_STDS * cloth.std)
    core = shrunk(bright, 1)
    if hue is None:
        ground = (dark & ~grown(bright, NEAR)) | (above < -SURE_SHADOW_L)
    else:
        ground = dark & (hue < HALFWAY)
        core |= shrunk(holding(bright | (hue > HALFWAY), core), CLEAR)
    seeds = np.zeros(above.shape, np.int32)
    seeds[ground] = 1
    seeds[core] = 2
    seeds[around.on_card] = 1
    flooded = watershed(_edges(around.lab), seeds, mask=None)
    return np.asarray((flooded == 2) & ~around.on_card)


def find_pieces(around: Surroundings, standing: BoolArray) -> tuple[Piece, ...]:
    """Find all pieces, largest first.

    Parameters
    ----------
    around : Surroundings
        The picture in the card's light.
    standing : ndarray, shape (rows, columns), bool
        What stands out from the cloth, by `standing_out`.

    Raises
    ------
    BoneError
        When no bone stands out, or it runs out of the picture, or the cloth has a pattern.
    """
    try:
        return _pieces(around, standing)
    except BoneError as error:
        if runs_at_rim(standing) <= MOST_RUNS:
            raise
        raise BoneError(
            "the cloth has a pattern",
            hint="lay bone and card on plain dark cloth without checks, stripes or flowers",
        ) from error


def _pieces(around: Surroundings, standing: BoolArray) -> tuple[Piece, ...]:
    regions = _regions(standing)
    areas = [float(around.mm2[tuple(one.coords.T)].sum()) for one in regions]
    pairs = sorted(zip(areas, regions, strict=True), key=lambda pair: -pair[0])
    pieces = tuple(_judged(around, pairs))
    if all(piece.reason for piece in pieces):
        raise BoneError(
            "no bone lies beside the card",
            hint="lay the bone on the cloth beside the card, not on it, both whole in the picture",
        )
    return pieces


def _bright(around: Surroundings, cloth: Cloth) -> BoolArray:
    """Return what is surely brighter than the cloth."""
    above = around.lightness - cloth.lightness
    return np.asarray(above > max(BRIGHT_L, BRIGHT_STDS * cloth.std))


def hidden_by_cloth(around: Surroundings, cloth: Cloth, bone: BoolArray) -> float:
    """Return up to which share of the light on well lit bone uneven cloth may hide it.

    Bone that is darker is no seed of what stands out. 0 on cloth so even that any would be one.
    """
    step = BRIGHT_STDS * cloth.std
    if step <= BRIGHT_L:
        return 0.0
    seed_l = percentiles(cloth.lightness[bone], [50])[0] + step
    seed_luminance = 100 * ((seed_l + 16) / 116) ** 3
    return float(seed_luminance / percentiles(around.xyz[bone, 1], [75])[0])


def _edges(lab: FloatArray) -> FloatArray:
    smooth = cv2.GaussianBlur(lab, (0, 0), EDGE_SIGMA)
    lightness, a, b = (sobel(smooth[..., channel]) for channel in range(3))
    return np.asarray(lightness + COLOUR_SHARE * (a + b))


def _regions(mask: BoolArray) -> list[RegionProperties]:
    found: list[RegionProperties] = regionprops(label(mask, connectivity=1))
    return found


def _judged(around: Surroundings, pairs: list[tuple[float, RegionProperties]]) -> Iterator[Piece]:
    """Classify each piece, the largest first; crumbs are judged by the largest bone."""
    largest = 0.0
    for area, region in pairs:
        if area < LEAST_AREA_MM2 / 4:
            break
        mask = np.zeros(around.on_card.shape, bool)
        mask[tuple(region.coords.T)] = True
        least = max(LEAST_AREA_MM2, LEAST_SHARE * largest) if largest else LEAST_LARGEST_MM2
        reason = _reason(around, region, mask, area, least)
        largest = largest or (0.0 if reason else area)
        yield Piece(mask=mask, area_mm2=area, solidity=float(region.solidity), reason=reason)


def _reason(
    around: Surroundings, region: RegionProperties, mask: BoolArray, area: float, least: float
) -> LeftOutReason | None:
    contacts = _contacts(region, mask.shape)
    if max(contacts) > BACKGROUND_CONTACT or mask[CORNERS].any():
        return LeftOutReason.BACKGROUND
    if area < least:
        return LeftOutReason.CRUMB
    lab = lab_from_xyz(lit_colour(around.xyz[mask]))
    if not bone_like(lab.tolist()):
        return LeftOutReason.COLOUR
    pale = lab[0] > PAPER_L and np.hypot(*lab[1:]) < PAPER_CHROMA
    if pale and _along(around.on_card, mask) > PAPER_CONTACT:
        return LeftOutReason.PAPER
    if max(contacts) > 0:
        raise BoneError(
            "bone, or something as pale, runs out of the picture",
            hint="take hands and gloves away, or step back until bone and card lie whole in the "
            "picture, cloth all around them",
        )
    return None


def _contacts(region: RegionProperties, shape: tuple[int, ...]) -> list[float]:
    """Share of each side of the picture that the piece touches."""
    rows, columns = region.coords.T
    height, width = shape
    ends = ((rows, 0, width), (rows, height - 1, width), (columns, 0, height),
            (columns, width - 1, height))  # fmt: skip
    return [float((place == end).sum() / length) for place, end, length in ends]


def _along(card: BoolArray, mask: BoolArray) -> float:
    """Return the share of the card's short side, or half the piece's outline, where they meet."""
    side, own = card & ~shrunk(card, 1), mask & ~shrunk(mask, 1)
    meeting = (side & grown(mask, 1)).sum()
    return float(meeting / min(SHORT_SIDE * side.sum(), own.sum() / 2))
