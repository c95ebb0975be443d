"""How the decays of a ladder's contrast become the haze of the water."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.reference.folder import data_folder
from greasecheck.reference.lookup import read_lookup

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from greasecheck.model import FloatArray

TABLE = "ladder_slopes.csv"
CLEAR_DECAYS_PER_M = (0.2, 10.0)  # where the law of clear water was derived
USUAL_FINE_PER_M, USUAL_FAR_PER_M, USUAL_VIEW_COS = 30.0, 3.0, 0.77  # where the terms are zero


@dataclass(frozen=True, slots=True, kw_only=True)
class SlopeFit:
    """Decays along the sight line, each of shape (draws,) [1/m]; NaN where nothing shows.

    Attributes
    ----------
    fine_per_m, coarse_per_m : ndarray
        Of the contrast of stripes of 3 and 8 mm.
    near_per_m, far_per_m : ndarray
        Of the contrast of 8 mm over the light of its white stripes, to 60 and 110 mm of depth.
    white_per_m : ndarray
        Of the light of the white stripes, to 60 mm.
    """

    fine_per_m: FloatArray
    coarse_per_m: FloatArray
    near_per_m: FloatArray
    far_per_m: FloatArray
    white_per_m: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Polynomial:
    """A sum of powers: `powers`, shape (terms, variables), and `factors`, shape (terms,)."""

    powers: FloatArray
    factors: FloatArray

    def __call__(self, variables: FloatArray) -> FloatArray:
        """Return its values, shape (n,), at variables of shape (n, variables)."""
        terms: FloatArray = np.prod(variables[:, None, :] ** self.powers, axis=2)
        return terms @ self.factors


@dataclass(frozen=True, slots=True, kw_only=True)
class GainLaw:
    """How the logarithm of haze over decay differs between tubs, and along the decays of each.

    In one tub it is a straight line in `fall_of` the decay.

    Attributes
    ----------
    mean : ndarray, shape (2,)
        Of its value in murky water and of its slope, over kinds of water, tubs and lights.
    covariance : ndarray, shape (2, 2)
        Of the two.
    photo_log_std : float
        What a photo strays from its tub's line, by the place it is taken from.
    """

    mean: FloatArray
    covariance: FloatArray
    photo_log_std: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SlopeLaw:
    """The derived constants.

    Attributes
    ----------
    murky : Polynomial
        Logarithm of haze over `fine_per_m`, of the logarithm of that slope over the usual one,
        of coarse and near over fine, and of the cosine of the angle of view over the usual one.
    murky_log_std : float
        Its error over waters, tubs and lights.
    clear : Polynomial
        Logarithm of haze over `far_per_m`, of the logarithm of 1 plus that slope over the usual
        one, which leaves it constant for clear water, and of the cosine as above; the mean over
        waters.
    signs : tuple of Polynomial
        Means of the signs of the kind of water (see `kind_signs`), of the same variables.
    covariance : ndarray, shape (3, 3)
        Over waters, tubs and lights: of what the logarithm of haze over `far_per_m` differs from
        `clear`, the gain that the readings of a tub share, and of the two signs.
    gain : GainLaw
        That gain along the hazes of one tub.
    """

    murky: Polynomial
    murky_log_std: float
    clear: Polynomial
    signs: tuple[Polynomial, Polynomial]
    covariance: FloatArray
    gain: GainLaw


def murky_variables(slopes: SlopeFit, view_cos: float) -> FloatArray:
    """Return the variables of `SlopeLaw.murky`, shape (draws, 4)."""
    fine = slopes.fine_per_m
    with np.errstate(invalid="ignore", divide="ignore"):
        logs = [
            np.log(fine / USUAL_FINE_PER_M),
            np.log(slopes.coarse_per_m / fine),
            np.log(slopes.near_per_m / fine),
        ]
    return np.column_stack([*logs, np.full_like(fine, view_cos - USUAL_VIEW_COS)])


def clear_variables(far_per_m: FloatArray, view_cos: ArrayLike) -> FloatArray:
    """Return the variables of `SlopeLaw.clear` and `signs`, shape (draws, 2)."""
    logs = np.log1p(np.maximum(far_per_m, 0) / USUAL_FAR_PER_M)
    return np.column_stack([logs, np.broadcast_to(view_cos, logs.shape) - USUAL_VIEW_COS])


def fall_of(decay_per_m: ArrayLike) -> FloatArray:
    """Return how far decays lie below those of murky water, in logarithms; 0 from there on."""
    low, high = CLEAR_DECAYS_PER_M
    return np.log(np.clip(decay_per_m, low, high) / high)


def kind_signs(slopes: SlopeFit) -> FloatArray:
    """Return what tells kinds of water apart, shape (draws, 2), over the decay of contrast.

    How fast white dims with depth, high where the water absorbs; and how much faster the contrast
    of 3 mm decays than that of 8 mm, high where it scatters forward.
    """
    far = np.clip(slopes.far_per_m, *CLEAR_DECAYS_PER_M)
    forward = slopes.fine_per_m - slopes.coarse_per_m
    return np.column_stack([np.arcsinh(slopes.white_per_m / far), np.arcsinh(forward / far)])


@cache
def slope_law() -> SlopeLaw:
    """Return the constants of calibration/ladder_slopes.csv."""
    rows = read_lookup(data_folder("calibration") / TABLE).rows
    return SlopeLaw(
        murky=_polynomial(rows, "murky"),
        murky_log_std=float(_values(rows, "murky_log_std")[0]),
        clear=_polynomial(rows, "clear"),
        signs=(_polynomial(rows, "dimming"), _polynomial(rows, "forwardness")),
        covariance=_values(rows, "covariance").reshape(3, 3),
        gain=GainLaw(
            mean=_values(rows, "gain"),
            covariance=_values(rows, "gain_covariance").reshape(2, 2),
            photo_log_std=float(_values(rows, "photo_log_std")[0]),
        ),
    )


def _values(rows: Sequence[dict[str, str]], part: str) -> FloatArray:
    return np.array([float(row["value"]) for row in rows if row["part"] == part])


def _polynomial(rows: Sequence[dict[str, str]], part: str) -> Polynomial:
    own = [row for row in rows if row["part"] == part]
    return Polynomial(
        powers=np.array([[float(power) for power in row["powers"].split()] for row in own]),
        factors=np.array([float(row["value"]) for row in own]),
    )
