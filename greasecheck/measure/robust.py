"""Statistics that resist a few spoilt samples."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.model import BoolArray, FloatArray

TUKEY_WIDTHS = 4.685  # 95 % efficiency for normal errors, Huber (1981), section 7.7 (from memory)
# Median absolute deviation of a normal distribution to its standard deviation; Rousseeuw & Croux
# (1993), Journal of the American Statistical Association 88, 1273.
MAD_TO_STD = 1.4826


def percentiles(values: FloatArray, percents: Sequence[float]) -> list[float]:
    """Return percentiles as `numpy.percentile` does, sooner on long arrays: sorting is quick.

    Parameters
    ----------
    values : ndarray, shape (n,)
        In any order.
    percents : sequence of float
        0 to 100.

    Examples
    --------
    >>> percentiles(np.array([3.0, 1.0, 2.0]), [50, 100])
    [2.0, 3.0]
    """
    ordered = np.sort(values)
    place = np.array(percents) / 100 * (len(ordered) - 1)
    low = place.astype(np.intp)
    high = np.minimum(low + 1, len(ordered) - 1)
    found: list[float] = (ordered[low] + (place - low) * (ordered[high] - ordered[low])).tolist()
    return found


def medians(values: FloatArray, axis: int = 0) -> FloatArray:
    """Return medians along an axis as `numpy.median` does, sooner on short arrays.

    Parameters
    ----------
    values : ndarray
        Finite, at least one along the axis.
    axis : int
        The axis, which the result lacks.

    Examples
    --------
    >>> medians(np.array([[3.0, 1.0], [1.0, 2.0]])).tolist()
    [2.0, 1.5]
    """
    ordered, count = np.sort(values, axis=axis), values.shape[axis]
    low, high = (ordered.take(place, axis=axis) for place in ((count - 1) // 2, count // 2))
    return np.asarray((low + high) / 2)


def robust_scale(residual: FloatArray, floor: float) -> float:
    """Return the standard deviation that the middle half of the residuals speaks for.

    Parameters
    ----------
    residual : ndarray, shape (n,)
        Residuals around zero.
    floor : float
        Smallest scale to believe, in the unit of `residual`.

    Examples
    --------
    >>> round(robust_scale(np.array([-0.1, 0.1, 0.1, -0.1, 9.0]), 0.01), 3)
    0.148
    """
    size = np.sort(np.abs(residual))
    middle = (size[(len(size) - 1) // 2] + size[len(size) // 2]) / 2
    return max(MAD_TO_STD * float(middle), floor)


def robust_scales(residual: FloatArray, used: BoolArray, floor: float) -> FloatArray:
    """Return the same for several choices of residuals, shape (k, 1).

    Parameters
    ----------
    residual : ndarray, shape (k, n)
        Residuals around zero.
    used : ndarray, shape (k, n), bool
        Which of them each choice is of, at least one.
    floor : float
        Smallest scale to believe, in the unit of `residual`.

    Examples
    --------
    >>> residual = np.array([[-0.1, 0.1, 0.1, -0.1, 9.0]])
    >>> robust_scales(residual, residual != 0.1, 0.01).round(3).tolist()
    [[0.148]]
    """
    size = np.sort(np.where(used, np.abs(residual), np.inf), axis=1)
    count = used.sum(axis=1, keepdims=True)
    low, high = (np.take_along_axis(size, at, axis=1) for at in ((count - 1) // 2, count // 2))
    return np.asarray(np.maximum(MAD_TO_STD * (low + high) / 2, floor))


def robust_weights(
    residual: FloatArray, scale: float | FloatArray, *, absolute: bool
) -> FloatArray:
    """Return the weights of the next round of iteratively reweighted least squares.

    Parameters
    ----------
    residual : ndarray
        Residuals of the last round.
    scale : float or ndarray
        Their standard deviation except for spoiled samples.
    absolute : bool
        True for least absolute deviations, which find their way from a poor start; False for
        Tukey's biweight, which then ignores what is spoiled.

    Returns
    -------
    ndarray
        Above 0 and up to 1, of the shape of `residual`.

    References
    ----------
    Beaton & Tukey (1974), Technometrics 16(2), 147-185, doi:10.1080/00401706.1974.10489171.

    Examples
    --------
    >>> robust_weights(np.array([0.0, 0.1, -0.1, 9.0]), 0.1, absolute=False).round(1).tolist()
    [1.0, 0.9, 0.9, 0.0]
    """
    size = np.abs(residual)
    if absolute:
        return np.asarray(scale / np.maximum(size, scale))
    return np.asarray(np.maximum(1 - (size / (TUKEY_WIDTHS * scale)) ** 2, 1e-3) ** 2)
