"""The standard error of a yellowness index, from patches predicted by a fit that left them out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.colorimetry import LEAST_LUMINANCE, lab_from_xyz, yellowness_e313
from greasecheck.reference.cie import WHITES, lab_to_xyz

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

# Greys are predicted better than vivid colours: variance of a grey over that of colours of root
# mean square chroma, candidates that are weighed by how well they explain the left-out errors.
GREY_SHARES = (0.02, 0.05, 0.1, 0.2, 0.4, 0.7, 1.0)
# A bone between ivory and greasy, where errors of patches of all lightness are compared; errors in
# CIELAB are much the same for light and dark, those of yellowness are not.
TYPICAL_LAB = (75.0, 4.0, 22.0)
PARAMETERS = 2  # that the variance itself has


@dataclass(frozen=True, slots=True, kw_only=True)
class YellownessError:
    """Standard error of the yellowness index, by chroma.

    Attributes
    ----------
    weights : ndarray, shape (k,)
        How far each share of `GREY_SHARES` is believed; they sum to 1.
    variances : ndarray, shape (k,)
        Variance of b* at the root mean square chroma, one for each share.
    mean_square_chroma : float
        Of the patches.
    """

    weights: FloatArray
    variances: FloatArray
    mean_square_chroma: float

    def std(self, lab: FloatArray) -> float:
        """Return the standard error of the yellowness index of a colour, CIELAB, shape (3,)."""
        shares = np.array(GREY_SHARES)
        grown = shares + (1 - shares) * (lab[1] ** 2 + lab[2] ** 2) / self.mean_square_chroma
        return float(
            np.sqrt(self.weights @ (self.variances * grown)) * _yi_per_b(lab[np.newaxis])[0]
        )


def yellowness_error(left_out_xyz: FloatArray, xyz: FloatArray) -> YellownessError:
    """Learn the standard error from patches.

    Parameters
    ----------
    left_out_xyz : ndarray, shape (n, 3)
        Each patch as predicted by a fit that left it out, Y of the perfect diffuser = 100.
    xyz : ndarray, shape (n, 3)
        What it should be; n of at least 4.

    Returns
    -------
    YellownessError
        Each patch's error in CIELAB, moved to a typical bone, counts as one draw from a normal
        distribution whose variance grows with the square of chroma. That bone is no more vivid
        than the patch: a grey whose lightness is wrong stays a grey.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> lab = rng.uniform([30, -2, -2], [90, 2, 2], (200, 3))
    >>> wrong = lab + [0, 0, 1] * rng.normal(size=(200, 1))
    >>> xyz, seen = (lab_to_xyz(each, WHITES["D65"]) for each in (lab, wrong))
    >>> bool(abs(yellowness_error(seen, xyz).std(np.array([60, 0, 0])) / 2.9 - 1) < 0.15)
    True
    """
    true = lab_from_xyz(xyz)
    errors = lab_from_xyz(np.maximum(left_out_xyz, LEAST_LUMINANCE)) - true
    squares = (true[:, 1:] ** 2).sum(axis=1)
    typical = _typical(np.minimum(np.sqrt(squares), math.hypot(*TYPICAL_LAB[1:])))
    moved = (_yellowness(typical + errors) - _yellowness(typical)) / _yi_per_b(typical)
    mean_square = float(squares.mean())
    shares = np.array(GREY_SHARES)[:, np.newaxis]
    grown = shares + (1 - shares) * squares / mean_square
    variances = (moved**2 / grown).sum(axis=1) / (len(moved) - PARAMETERS)
    surprise = np.log(grown).sum(axis=1) + len(moved) * np.log(np.maximum(variances, 1e-12))
    weights = np.exp(-(surprise - surprise.min()) / 2)
    return YellownessError(
        weights=weights / weights.sum(), variances=variances, mean_square_chroma=mean_square
    )


def _typical(chroma: FloatArray) -> FloatArray:
    """Return bones in CIELAB, shape (n, 3), as light as is typical, of its hue, of a chroma."""
    lightness, a, b = TYPICAL_LAB
    return np.stack(
        [np.full(len(chroma), lightness), *(np.outer((a, b), chroma) / math.hypot(a, b))], axis=1
    )


def _yi_per_b(lab: FloatArray) -> FloatArray:
    """Change of the yellowness index for one unit of b*, of colours, shape (n, 3)."""
    half = np.array([0, 0, 0.5])
    return np.asarray(_yellowness(lab + half) - _yellowness(lab - half))


def _yellowness(lab: FloatArray) -> FloatArray:
    xyz = lab_to_xyz(lab, WHITES["D65"])
    return yellowness_e313(np.maximum(xyz, LEAST_LUMINANCE))
