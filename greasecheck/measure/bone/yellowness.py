"""The colour of a mask of bone: yellowness, patches, glare and cavities left out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.measure.bone.mask import THIN_MM, drop_small, matt_surface, open_mask
from greasecheck.measure.bone.patches import patch_share_std
from greasecheck.measure.bone.pieces import outlines
from greasecheck.measure.bone.target import clean_bone
from greasecheck.measure.colorimetry import (
    LEAST_LUMINANCE,
    delta_e00,
    lab_from_xyz,
    tint_cie,
    whiteness_cie,
    yellowness_e313,
)
from greasecheck.measure.robust import percentiles
from greasecheck.model import BoneReading
from greasecheck.reference.cie import WHITES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.measure.bone.zone import Zone
    from greasecheck.model import BoneState, BoolArray, FloatArray

PALE_CHROMA = 12.0  # CIELAB chroma below which any hue may be bone
BONE_HUES_DEG = (20.0, 115.0)  # and the hues of bone above it, bloody to mossy
SMOOTHING_MM = 1.5  # standard deviation of the yellowness map's smoothing
SPECK_MM2 = 9.0  # yellow specks smaller than this are no patch
GRAIN_MM = 4.0  # distance over which the bone's own mottling is one sample
# Redness: what X has above grey over what Z has below it. Skin and blood have 0.3 or more, clean
# and greasy bone, invented from spectra, less than 0.15 (CIELAB hues of 55 and of over 70 degrees).
REDDISH = 0.2
LEAST_PALING = 0.1  # paler than this has no redness
CAVITY_Y = 1.5  # of 100; darker in a hole of the bone, a hue is noise
BLUEST = 5  # percentile of the surface's yellowness that its least yellow part stands for


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneMaps:
    """What was found in the zone, each array shaped (rows, columns).

    `surface` is what is well lit, whose colour counts; `seen` is that with the bone's shaded sides,
    of which `yellow` are the parts whose `yellowness` is above `limit`. `smooth` is XYZ, `lit_xyz`
    that of the surface's better lit half, shape (3,).
    """

    mask: BoolArray
    surface: BoolArray
    seen: BoolArray
    yellow: BoolArray
    limit: float
    yellowness: FloatArray
    smooth: FloatArray
    lit_xyz: FloatArray


def bone_maps(zone: Zone, mask: BoolArray) -> BoneMaps:
    """Find the surface of a mask of bone whose colour counts, and its yellow patches."""
    plain = yellowness_e313(zone.xyz)
    surface, seen = matt_surface(mask & zone.unclipped, zone.xyz[..., 1], plain, zone.per_mm)
    shaded = seen & ~surface
    smooth = _smoothed(zone.xyz, surface, zone.per_mm)
    smooth[shaded] = _smoothed(zone.xyz, shaded, zone.per_mm)[shaded]
    yellowness = yellowness_e313(smooth)
    limit = clean_bone().yellow_limit(yellowness[surface])
    return BoneMaps(
        mask=mask,
        surface=surface,
        seen=seen,
        yellow=drop_small(seen & (yellowness > limit), SPECK_MM2 * zone.per_mm**2),
        limit=limit,
        yellowness=yellowness,
        smooth=smooth,
        lit_xyz=lit_colour(smooth[surface]),
    )


def reddish_share(xyz: FloatArray, besides: float = 0.0) -> float:
    """Return the share of colours, shape (n, 3), redder than bone, with as many others besides."""
    return float((is_reddish(xyz).sum() + besides) / (len(xyz) + besides))


def reddish_in_holes(xyz: FloatArray, bone: BoolArray, per_mm: float) -> BoolArray:
    """Return what is as red as blood in the holes of a mask: too dark, it was taken for no bone.

    Parameters
    ----------
    xyz : ndarray, shape (rows, columns, 3)
        CIE XYZ (D65/2), Y of the perfect diffuser = 100.
    bone : ndarray, shape (rows, columns), bool
        The mask, its holes left open.
    per_mm : float
        Sampling density [px/mm].
    """
    lines = [np.rint(line).astype(np.int32) for line in outlines(bone)]
    within = cv2.fillPoly(np.zeros(bone.shape, np.uint8), lines, (1,)) > 0
    soft = np.asarray(cv2.GaussianBlur(xyz.astype(np.float32), (0, 0), per_mm / 2), np.float64)
    red = within & ~bone & (soft[..., 1] > CAVITY_Y) & is_reddish(soft)
    return drop_small(open_mask(red, THIN_MM, per_mm), SPECK_MM2 * per_mm**2)


def is_reddish(xyz: FloatArray) -> BoolArray:
    """Return which colours, shape (..., 3), are redder than bone."""
    x, _, z = np.moveaxis(100 * xyz / xyz[..., 1:2] / np.array(WHITES["D65"]), -1, 0)
    return np.asarray(x - 1 > REDDISH * np.maximum(1 - z, LEAST_PALING))


def bone_reading(
    zone: Zone, maps: BoneMaps, colour_std: float, state: BoneState, gloss: float = 0.0
) -> BoneReading:
    """Return the figures of a surface.

    `colour_std` is the yellowness index's own error, `gloss` what white light mirrored adds to it.
    """
    xyz, yellowness = maps.lit_xyz, maps.yellowness[maps.surface]
    lower, middle, upper = percentiles(yellowness, [25, 50, 75])
    lightness, a, b = lab_from_xyz(xyz).tolist()
    return BoneReading(
        yi_e313=middle,
        yi_std=float(
            np.linalg.norm(
                [
                    colour_std,
                    gloss,
                    _median_std(upper - lower, len(yellowness), zone.per_mm),
                    _foreign_light_std(middle),
                ]
            )
        ),
        yi_spread=upper - lower,
        lab=(lightness, a, b),
        whiteness_cie=float(whiteness_cie(xyz)),
        tint_cie=float(tint_cie(xyz)),
        delta_e00_clean=float(delta_e00(xyz, clean_bone().xyz)),
        yellow_patch_share=float(maps.yellow.sum() / maps.seen.sum()),
        yellow_share_std=patch_share_std(
            maps.yellowness[maps.seen],
            (yellowness, maps.smooth[maps.surface, 1]),
            maps.limit,
            colour_std,
        ),
        area_mm2=float(maps.mask.sum() / zone.per_mm**2),
        state=state,
    )


def least_yellow(maps: BoneMaps) -> float:
    """Return the yellowness index of the surface's least yellow part."""
    return percentiles(maps.yellowness[maps.surface], [BLUEST])[0]


def lit_colour(xyz: FloatArray) -> FloatArray:
    """Return the median colour of the better lit half: its lightness is less that of shading."""
    lit = xyz[:, 1] >= percentiles(xyz[:, 1], [50])[0]
    return np.array([percentiles(channel, [50])[0] for channel in xyz[lit].T])


def bone_like(lab: Sequence[float]) -> bool:
    """Distinguish bone, from white to brown or bloody, from things of other colours."""
    _, a, b = lab
    chroma, hue = np.hypot(a, b), np.degrees(np.arctan2(b, a))
    return bool(chroma < PALE_CHROMA or (BONE_HUES_DEG[0] < hue < BONE_HUES_DEG[1]))


def _median_std(quartile_range: float, pixels: int, per_mm: float) -> float:
    """Estimate the standard error of a mottled surface's median: mottles count, not pixels."""
    std = quartile_range / 1.349  # normal distribution
    mottles = max(pixels / (GRAIN_MM * per_mm) ** 2, 1.0)
    return float(np.sqrt(np.pi / 2) * std / np.sqrt(mottles))


def _foreign_light_std(yellowness: float) -> float:
    """Return how far what is bluer than a perfect white is from clean bone: so wrong is its light.

    Bone takes more blue light than red, so that its yellowness index is above 0.
    """
    return float(yellowness_e313(clean_bone().xyz)) - yellowness if yellowness < 0 else 0.0


def _smoothed(xyz: FloatArray, surface: BoolArray, per_mm: float) -> FloatArray:
    """Average over a few mm of the surface, and of nothing else."""
    weight = surface.astype(np.float32)
    sigma = SMOOTHING_MM * per_mm
    total = cv2.GaussianBlur(xyz.astype(np.float32) * weight[..., np.newaxis], (0, 0), sigma)
    share = cv2.GaussianBlur(weight, (0, 0), sigma)
    mean = total / np.maximum(share, 1e-6)[..., np.newaxis]
    return np.asarray(np.maximum(mean, LEAST_LUMINANCE), np.float64)
