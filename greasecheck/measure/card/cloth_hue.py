"""Tells bone in the shade from cloth as dark as it, by its hue."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.measure.card.masks import grown, holding
from greasecheck.measure.robust import percentiles, robust_scale

if TYPE_CHECKING:
    from greasecheck.measure.card.cloth import Cloth
    from greasecheck.measure.card.surroundings import Surroundings
    from greasecheck.model import BoolArray, FloatArray

# Without a source; the words beside each value say what it does.
HUE_SIGMA = 1.2  # samples of smoothing; noise of dark cloth in 8 bits is several per cent
FEWEST = 150  # samples of each kind
PALEST = 10  # percentile of the bone's hues, from the cloth's on, that stands for pale bone
LEAST_APART = 6.0  # standard deviations of the cloth's hue between it and pale bone
LEAST_STD = 0.01  # relative, of a dark cloth's smoothed colours in 8 bits
# Samples around what is bright that its blur and JPEG's coarse colours may reach, and in which
# edges decide: shaded bone is as dark as cloth.
NEAR = 4
HALFWAY = 0.5  # of the way from the cloth's hue to that of pale bone
BESIDE = 20  # samples around what is bright in which the cloth's hue is looked at; shaded cloth
BESIDE_SHARE = 1.0  # farther off, by the root of the bone's area: beyond its shaded side
ALIKE = 0.25  # of the way to pale bone: what is no farther off has the cloth's hue
SHADED_STDS = 3.0  # standard deviations of the cloth's lightness below it
# Of what is lit close to the bone, however brightly, so much must have the cloth's hue: no second
# lamp lights both. Of what is shaded, shaded bone among it, less; where less is shaded than a share
# of the bone's samples, nothing is.
SEEN_LIT, SEEN_IN_SHADE, SHADELESS = 0.7, 0.2, 0.02
MOST_USED = 20_000  # samples that medians take


def hue_towards_bone(around: Surroundings, cloth: Cloth, bright: BoolArray) -> FloatArray | None:
    """Return how far each sample's hue is from that of cloth, 0, towards that of pale bone, 1.

    Shade takes the lightness of both, and neither's hue where one kind of lamp lights the scene.
    None where hue does not tell: bone and cloth are of one hue, or the light beside the bone or in
    its shadow is of another hue than in the open.

    Parameters
    ----------
    around : Surroundings
        The picture in the card's light.
    cloth : Cloth
        The cloth's lightness.
    bright : ndarray, shape (rows, columns), bool
        What is surely brighter than cloth.

    References
    ----------
    Fisher (1936), Annals of Eugenics 7, 179-188: the linear discriminant of two classes.
    """
    above = around.lightness - cloth.lightness
    bone = _inside(bright & around.unclipped & ~around.on_card)
    free = ~grown(bright, NEAR) & ~around.on_card
    open_cloth = free & (np.abs(above) < 2 * cloth.std)
    if min(bone.sum(), open_cloth.sum()) < FEWEST:
        return None
    hues = _hues(around.xyz)
    towards = _towards(_some(hues, open_cloth), _some(hues, bone))
    if towards is None:
        return None
    middle, direction = towards
    score = (hues - middle.astype(np.float32)) @ direction.astype(np.float32)
    dark = above < -SHADED_STDS * cloth.std
    reach = max(BESIDE, round(BESIDE_SHARE * float(np.sqrt(bone.sum()))))
    # A lamp makes cloth lighter, too: what has bone's hue and is not, is bone in its own shade.
    no_lighter = above < SHADED_STDS * cloth.std
    standing = holding(bright | (no_lighter & (score > HALFWAY)), bright)
    beside = grown(standing, BESIDE) & ~grown(standing, NEAR)
    lit = score[beside & ~dark & ~around.on_card]
    shaded = score[free & dark & grown(bright, reach)]
    tells = len(lit) >= FEWEST and _is_cloths(lit, SEEN_LIT)
    if tells and len(shaded) > SHADELESS * bone.sum():
        tells = _is_cloths(shaded, SEEN_IN_SHADE)
    return score if tells else None


def _is_cloths(score: FloatArray, share: float) -> bool:
    """Return whether more than a share of samples have the hue of open cloth."""
    return bool((np.abs(score) < ALIKE).mean() > share)


def _inside(bright: BoolArray) -> BoolArray:
    """Keep what does not run out of the picture, as tables and walls do."""
    count, labels = cv2.connectedComponents(bright.astype(np.uint8))
    outer = np.zeros(count, bool)
    for side in (labels[0], labels[-1], labels[:, 0], labels[:, -1]):
        outer[side] = True
    outer[0] = True
    return np.asarray(~outer[labels])


def _hues(xyz: FloatArray) -> FloatArray:
    """Return the smoothed logarithms of X and Z over Y, shape (rows, columns, 2), float32."""
    logs = np.log(xyz.astype(np.float32))
    return np.asarray(cv2.GaussianBlur(logs[..., [0, 2]] - logs[..., [1]], (0, 0), HUE_SIGMA))


def _some(hues: FloatArray, which: BoolArray) -> FloatArray:
    places = np.flatnonzero(which)
    return hues.reshape(-1, 2)[places[:: max(len(places) // MOST_USED, 1)]].astype(np.float64)


def _towards(cloth: FloatArray, bone: FloatArray) -> tuple[FloatArray, FloatArray] | None:
    """Return the cloth's hue and the axis on which pale bone lies at 1; None if too near."""
    middle = np.median(cloth, axis=0)
    scatter = np.cov(_core(cloth - middle).T) + LEAST_STD**2 * np.eye(2)
    direction = np.linalg.solve(scatter, np.median(bone, axis=0) - middle)
    pale = percentiles((bone - middle) @ direction, [PALEST])[0]
    std = float(np.sqrt(direction @ scatter @ direction))
    return (middle, np.asarray(direction / pale)) if pale > LEAST_APART * std else None


def _core(residual: FloatArray) -> FloatArray:
    """Leave out what is no cloth: beyond three robust standard deviations on either axis."""
    scales = np.array([robust_scale(each, 1e-3) for each in residual.T])
    return np.asarray(residual[(np.abs(residual) < 3 * scales).all(axis=1)])
