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
KINDS = ("milky", "scum", "brown", "tinted", "dark tinted", "grey", "dark grey")
GAINS = ("bath", "pale", "dark")  # baths' own kinds, and others that absorb little and much
CLEAR_DECAYS_PER_M = (0.2, 10.0)  # where the law of clear water was derived
LEAST_DECAY_PER_M = 0.05  # of which decays of two colours are compared
FARTHEST_SIGN = 3.0  # standard deviations: a sign farther off counts for no more
# Signs and the error of the decay drawn from the normal law, in pairs about its mean, over which
# the law of the gain is taken.
DRAWN = np.random.default_rng(3).standard_normal((100, 5))
DRAWN = np.concatenate([DRAWN, -DRAWN])
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

    In one tub it is a straight line in `log_decay_of` it.

    Attributes
    ----------
    log_share : float
        Logarithm of how likely this kind of water is.
    mean : ndarray, shape (2,)
        Of its value where that is 0 and of its slope, over waters, tubs and lights.
    covariance : ndarray, shape (2, 2)
        Of the two.
    photo_log_std : float
        What a photo strays from its tub's line, by the place it is taken from.
    """

    log_share: float
    mean: FloatArray
    covariance: FloatArray
    photo_log_std: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of water: its gain and signs along the decay, the first of `clear_variables`.

    Attributes
    ----------
    log_share : float
        Logarithm of how likely it is.
    gain : ndarray, shape (3,)
        What it adds to `KindLaw.gain`, as the factors of the powers 0 to 2 of the decay.
    mean : ndarray, shape (3, 4)
        The same of the means of its signs.
    covariance : ndarray, shape (4, 4)
        Of the signs about them, by a normal law.
    log_std_line : ndarray, shape (2,)
        The logarithm of the error of its gain over waters, tubs and lights, as the factors of the
        powers 0 and 1 of the decay: the clearer water is, the more tub and light count.
    """

    log_share: float
    gain: FloatArray
    mean: FloatArray
    covariance: FloatArray
    log_std_line: FloatArray

    def given(self, log_decay: float, signs: FloatArray, noise: FloatArray) -> SeenKind:
        """Return it once signs are seen with a noise; signs that are not finite are not seen.

        The noise, shape (5, 5), is that of the signs and of the logarithm of the decay.
        """
        powers = np.array([1.0, log_decay, log_decay**2])
        mean = powers @ self.mean
        seen = np.flatnonzero(np.isfinite(signs) & np.isfinite(np.diag(noise)[:-1]))
        away = (signs - mean)[seen]
        before = np.zeros_like(noise)  # signs as they are, and the error of the decay
        before[:-1, :-1], before[-1, -1] = self.covariance, noise[-1, -1]
        across = np.vstack([self.covariance[:, seen], noise[-1, seen]])
        spread = self.covariance[np.ix_(seen, seen)] + noise[np.ix_(seen, seen)]
        weights = np.linalg.solve(spread, across.T).T
        unlikely = away @ np.linalg.solve(spread, away) + np.linalg.slogdet(spread)[1]
        reach = FARTHEST_SIGN * np.sqrt(np.diag(spread))
        return SeenKind(
            log_share=float(self.log_share - unlikely / 2),
            gain=float(powers @ self.gain),
            mean=np.append(mean, 0.0) + weights @ np.clip(away, -reach, reach),
            covariance=before - weights @ across.T,
            log_std=float(np.exp(powers[:2] @ self.log_std_line)),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenKind:
    """A kind of water at one decay, once its signs are seen.

    Attributes
    ----------
    log_share : float
        Logarithm of how likely it is, up to what is common to all kinds.
    gain : float
        What it adds to `KindLaw.gain`.
    mean : ndarray, shape (5,)
        Of its signs and of the error of the logarithm of the decay, by a normal law.
    covariance : ndarray, shape (5, 5)
        Of the same.
    log_std : float
        Error of its gain, its signs known.
    """

    log_share: float
    gain: float
    mean: FloatArray
    covariance: FloatArray
    log_std: float

    def drawn(self) -> FloatArray:
        """Return signs and errors of the decay drawn from its law, shape (draws, 5)."""
        variances, axes = np.linalg.eigh(self.covariance)  # of a sign seen without noise: 0
        drawn: FloatArray = self.mean + DRAWN @ (axes * np.sqrt(variances.clip(0.0))).T
        return drawn


@dataclass(frozen=True, slots=True, kw_only=True)
class KindLaw:
    """How the kind of water tells the gain, by its four signs.

    These are `kind_signs` of a colour and the first and last of `colour_signs`.

    Attributes
    ----------
    gain : Polynomial
        Logarithm of the gain less what is each kind's own, of the signs.
    kinds : tuple of tuple of Kind
        The kinds of water that baths have, as seen in R, in G and in B.
    """

    gain: Polynomial
    kinds: tuple[tuple[Kind, ...], ...]

    def log_gain(
        self, channel: int, log_decay: float, signs: FloatArray, noise: FloatArray
    ) -> tuple[float, float]:
        """Return the logarithm of haze over decay in R, G or B and its error, by signs and noise.

        The signs, shape (4,), are taken for what they are likeliest to be in each kind of water at
        that decay (the first of `clear_variables`), and these as likely as the signs make them
        (normal laws given what is seen: Rao 1973, Linear Statistical Inference, 8a.2). Those not
        finite are not seen. The noise, shape (5, 5), is the covariance of their errors and that of
        the logarithm of the decay, which errs with them and counts in the error of the result.
        """
        told = [one.given(log_decay, signs, noise) for one in self.kinds[channel]]
        odds = np.array([one.log_share for one in told])
        shares = np.exp(odds - odds.max())
        shares /= shares.sum()
        drawn = np.array([one.drawn() for one in told])
        gains = np.array([one.gain + self.gain(drawn[n, :, :-1]) for n, one in enumerate(told)])
        mean = float(shares @ gains.mean(axis=1))
        apart = (gains - drawn[:, :, -1] - mean) ** 2
        own = np.array([one.log_std for one in told]) ** 2
        return mean, float(np.sqrt(shares @ (apart.mean(axis=1) + own)))


@dataclass(frozen=True, slots=True, kw_only=True)
class SlopeLaw:
    """The derived constants.

    Attributes
    ----------
    murky : Polynomial
        Logarithm of haze over `fine_per_m`, of the logarithm of that slope over the usual one,
        of coarse and near over fine, of the cosine of the angle of view over the usual one, and of
        two signs of the kind of water.
    murky_log_std : float
        Its error over waters, tubs and lights.
    clear : Polynomial
        Logarithm of haze over `far_per_m`, of the logarithm of 1 plus that slope over the usual
        one, which leaves it constant for clear water, and of the cosine as above; the mean over
        waters that absorb little.
    clear_log_mean, clear_log_std : float
        What the logarithm of haze over `far_per_m` differs from it, in the mean of all kinds of
        water, and the standard deviation of that.
    kind : KindLaw
        How what the logarithm of haze over `far_per_m` differs from `clear`, the gain that the
        readings of a tub share, follows from the kind of water.
    gains : tuple of GainLaw
        That gain along the hazes of one tub, for each of `GAINS`.
    """

    murky: Polynomial
    murky_log_std: float
    clear: Polynomial
    clear_log_mean: float
    clear_log_std: float
    kind: KindLaw
    gains: tuple[GainLaw, ...]


def murky_variables(slopes: SlopeFit, view_cos: float, browning: FloatArray) -> FloatArray:
    """Return the variables of `SlopeLaw.murky`, shape (draws, 6).

    Without colours water counts as grey. The signs of the kind of water fade as murk grows: deep
    in it light has forgotten where it came from, and the decays alone tell all.
    """
    fine = slopes.fine_per_m
    with np.errstate(invalid="ignore", divide="ignore"):
        logs = [
            np.log(fine / USUAL_FINE_PER_M),
            np.log(slopes.coarse_per_m / fine),
            np.log(slopes.near_per_m / fine),
        ]
        dimming = np.arcsinh(slopes.white_per_m / slopes.coarse_per_m)
    fade = 1 / (1 + (fine / USUAL_FINE_PER_M) ** 2)
    signs = [fade * dimming, fade * np.nan_to_num(browning)]
    return np.column_stack([*logs, np.full_like(fine, view_cos - USUAL_VIEW_COS), *signs])


def clear_variables(far_per_m: FloatArray, view_cos: ArrayLike) -> FloatArray:
    """Return the variables of `SlopeLaw.clear`, shape (draws, 2)."""
    logs = np.log1p(np.maximum(far_per_m, 0) / USUAL_FAR_PER_M)
    return np.column_stack([logs, np.broadcast_to(view_cos, logs.shape) - USUAL_VIEW_COS])


def log_decay_of(decay_per_m: ArrayLike) -> FloatArray:
    """Return the logarithm of decays over the fastest of clear water, up to twice that."""
    low, high = CLEAR_DECAYS_PER_M
    return np.log(np.clip(decay_per_m, low, 2 * high) / high)


def kind_signs(slopes: SlopeFit) -> FloatArray:
    """Return what tells kinds of water apart, shape (draws, 2), over the decay of contrast.

    How fast white dims with depth, high where the water absorbs; and how much faster the contrast
    of 3 mm decays than that of 8 mm, high where it scatters forward.
    """
    far = np.clip(slopes.far_per_m, *CLEAR_DECAYS_PER_M)
    forward = slopes.fine_per_m - slopes.coarse_per_m
    return np.column_stack([np.arcsinh(slopes.white_per_m / far), np.arcsinh(forward / far)])


def colour_signs(red: SlopeFit, blue: SlopeFit) -> FloatArray:
    """Return what red and blue together tell of the kind of water, shape (draws, 3).

    How much more white dims in blue than in red, over the decay of relative contrast, as clear
    water tells it, and over that of the contrast of 8 mm, as murky water does: nothing in water
    that scatters alone, much in what blood makes brown. Then how much faster the relative contrast
    decays in blue than in red: more the smaller the particles are.
    """
    dimming = []
    for one in (red, blue):
        decays = np.column_stack([one.far_per_m, one.coarse_per_m])
        least = np.maximum(decays, CLEAR_DECAYS_PER_M[0])
        dimming.append(np.arcsinh(one.white_per_m[:, None] / least))
    both = [np.maximum(one.far_per_m, LEAST_DECAY_PER_M) for one in (red, blue)]
    return np.column_stack([dimming[1] - dimming[0], np.log(both[1] / both[0])])


@cache
def slope_law() -> SlopeLaw:
    """Return the constants of calibration/ladder_slopes.csv."""
    rows = read_lookup(data_folder("calibration") / TABLE).rows
    return SlopeLaw(
        murky=_polynomial(rows, "murky"),
        murky_log_std=float(_values(rows, "murky_log_std")[0]),
        clear=_polynomial(rows, "clear"),
        clear_log_mean=float(_values(rows, "clear_log_mean")[0]),
        clear_log_std=float(_values(rows, "clear_log_std")[0]),
        kind=KindLaw(
            gain=_polynomial(rows, "kind"),
            kinds=tuple(
                tuple(_kind(rows, place, one) for place in range(len(KINDS))) for one in range(3)
            ),
        ),
        gains=tuple(_gain(rows, name) for name in GAINS),
    )


def _gain(rows: Sequence[dict[str, str]], name: str) -> GainLaw:
    return GainLaw(
        log_share=float(np.log(_values(rows, f"{name}_gain_share")[0])),
        mean=_values(rows, f"{name}_gain"),
        covariance=_values(rows, f"{name}_gain_covariance").reshape(2, 2),
        photo_log_std=float(_values(rows, f"{name}_photo_log_std")[0]),
    )


def _kind(rows: Sequence[dict[str, str]], place: int, channel: int) -> Kind:
    name = KINDS[place]
    return Kind(
        log_share=float(np.log(_values(rows, f"{name}_share")[channel])),
        gain=_values(rows, "kind_gain").reshape(len(KINDS), 3)[place],
        mean=_values(rows, f"{name}_mean").reshape(3, 3, 4)[channel],
        covariance=_values(rows, f"{name}_covariance").reshape(3, 4, 4)[channel],
        log_std_line=_values(rows, "kind_log_std_line").reshape(len(KINDS), 2)[place],
    )


def _values(rows: Sequence[dict[str, str]], part: str) -> FloatArray:
    return np.array([float(row["value"]) for row in rows if row["part"] == part])


def _polynomial(rows: Sequence[dict[str, str]], part: str) -> Polynomial:
    own = [row for row in rows if row["part"] == part]
    return Polynomial(
        powers=np.array([[float(power) for power in row["powers"].split()] for row in own]),
        factors=np.array([float(row["value"]) for row in own]),
    )
