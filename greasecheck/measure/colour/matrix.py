"""The map from camera values to CIE XYZ: linear, or root-polynomial of the second degree."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.colorimetry import delta_e00

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

# Without a source, where none is named; the comment beside each value states what it does.
ROOT_RIDGES = (1e-4, 1e-3, 1e-2)  # candidate penalties on the departure from the linear map
LINEAR_RIDGE = 1e-7  # only keeps the equations solvable
ROOT_GAIN = 0.9  # root terms are taken only when they cut the left-out error below this share


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourMatrix:
    """A fitted map from camera values to CIE XYZ.

    Attributes
    ----------
    matrix : ndarray, shape (3, 3) or (6, 3)
        Takes the terms of a camera colour to XYZ; the first three rows act on R, G, B.
    left_out_xyz : ndarray, shape (n, 3)
        Each fitted colour as predicted by a fit that left it out, Y of the perfect diffuser = 100.
    loo_delta_e00 : float
        Mean CIEDE2000 of `left_out_xyz`.
    """

    matrix: FloatArray
    left_out_xyz: FloatArray
    loo_delta_e00: float

    @property
    def order(self) -> int:
        """Return 1 for a linear map, 2 for root-polynomial terms of the second degree."""
        return 1 if len(self.matrix) == 3 else 2

    def __call__(self, camera: FloatArray) -> FloatArray:
        """Return XYZ, shape (..., 3), Y of the perfect diffuser = 100, of camera values alike."""
        return np.asarray(_terms(camera, self.order) @ self.matrix)


def fit_matrix(
    camera_rgb: FloatArray, xyz: FloatArray, weights: FloatArray | None = None
) -> ColourMatrix:
    """Fit camera values to XYZ; the order and its ridge are those that predict best.

    Parameters
    ----------
    camera_rgb : ndarray, shape (n, 3)
        Linear camera values of n distinct colours under one light, white about 1.
    xyz : ndarray, shape (n, 3)
        Their CIE XYZ (D65/2), Y of the perfect diffuser = 100.
    weights : ndarray, shape (n,), optional
        Importance of each colour; all equal when left out.

    Returns
    -------
    ColourMatrix
        With the least mean leave-one-out CIEDE2000; root terms must earn their place.

    References
    ----------
    Finlayson, Mackiewicz & Hurlbert (2015), IEEE Transactions on Image Processing 24(5),
    1460-1470, doi:10.1109/TIP.2015.2405336: root-polynomials keep exposure invariance.

    Examples
    --------
    >>> camera = np.random.default_rng(0).uniform(0.1, 1, (12, 3))
    >>> fit = fit_matrix(camera, camera @ np.diag([95, 100, 109]))
    >>> fit.order, fit(np.ones(3)).round(1).tolist()
    (1, [95.0, 100.0, 109.0])
    """
    importance = np.ones(len(xyz)) if weights is None else weights
    row_weights = np.sqrt(importance) / (xyz[:, 1] / 100 + 0.01) ** (2 / 3)  # slope of L*
    ridges = (None, *ROOT_RIDGES)
    matrices, left_out = zip(
        *(_fit(camera_rgb, xyz, row_weights, ridge) for ridge in ridges), strict=True
    )
    errors = delta_e00(np.stack(left_out), np.stack([xyz] * len(ridges))).mean(axis=1)
    best = 1 + int(np.argmin(errors[1:]))
    chosen = best if errors[best] < ROOT_GAIN * errors[0] else 0
    return ColourMatrix(
        matrix=matrices[chosen],
        left_out_xyz=left_out[chosen],
        loo_delta_e00=float(errors[chosen]),
    )


def _terms(camera: FloatArray, order: int) -> FloatArray:
    """R, G, B, and for order 2 the geometric means of their pairs less the arithmetic ones.

    The differences span the same maps as the bare roots and vanish for neutrals, so a ridge on
    them shrinks the map towards the linear one.
    """
    if order == 1:
        return camera
    positive = np.maximum(camera, 0)
    other = np.roll(positive, -1, axis=-1)
    return np.concatenate([camera, np.sqrt(positive * other) - (positive + other) / 2], axis=-1)


def _fit(
    camera: FloatArray, xyz: FloatArray, row_weights: FloatArray, root_ridge: float | None
) -> tuple[FloatArray, FloatArray]:
    """Ridge regression: the map, and each colour predicted without it by the hat matrix (Allen)."""
    ridge = [LINEAR_RIDGE] * 3 + ([] if root_ridge is None else [root_ridge] * 3)
    terms = _terms(camera, len(ridge) // 3)
    design, wanted = terms * row_weights[:, None], xyz * row_weights[:, None]
    gram = design.T @ design + np.diag(ridge) * float((row_weights**2).sum())
    matrix = np.asarray(np.linalg.solve(gram, design.T @ wanted))
    leverage = np.einsum("ij,ji->i", design, np.linalg.solve(gram, design.T))
    left_out = xyz - (xyz - terms @ matrix) / np.maximum(1 - leverage, 1e-6)[:, None]
    return matrix, np.asarray(left_out)
