"""From the decay of a ladder's contrast to the haze of the water."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.ladder.slopes import LEAST_SHARE, fit_loss, fit_slopes
from greasecheck.model import Bound
from greasecheck.reference.ladder.colour import colour_law
from greasecheck.reference.ladder.slopes import (
    CLEAR_DECAYS_PER_M,
    clear_variables,
    kind_signs,
    murky_variables,
    slope_law,
)

if TYPE_CHECKING:
    from greasecheck.measure.ladder.slopes import Profile
    from greasecheck.model import FloatArray
    from greasecheck.reference.ladder.slopes import SlopeFit

DRAWS = 60  # copies with noise; with half of them standard errors scatter by 13 instead of 9 %
# Slopes of 3 mm between which the law of murky water was derived [1/m], and how well they must be
# known for it.
MURKY_SLOPES_PER_M = (9.0, 130.0)
WORST_MURKY_LOG_STD = 0.35
# Contrast of 8 mm decays no faster than that of 3 mm, in no tub of the design by more than 0.01 in
# logarithms; the rest is room for noise. What does is covered, and no water.
MOST_LOG_RATIO = 0.1
FARTHEST_SIGN = 3.0  # standard deviations: a sign farther off counts for no more
# What moves a slope beside the noise: 2 mm of level 1 %, 5 degrees of lean 3 %, the lens 1 %.
PLACE_LOG_STD = 0.02
# How well the depth is known over which murky water hides the stripes, by edges, blur and bins; set
# by hand-held views of two tubs of 30 and 60 per metre. With twice as much, water of 60 per metre
# has an error of 20 instead of 12 %.
DEPTH_STD_M = 0.0015
# How far the relative contrast of a ladder in clear water rises or falls along the path by
# reflections and uneven stripes; it decides below which haze there is only a bound.
EMPTY_DECAY_STD_PER_M = 0.06
SURE = 2.0  # standard errors
START_SHARE = 0.45  # contrast just under the surface over dry contrast: 0.4 to 0.6 in traced tubs
LOST_BINS = 2
BRIGHT_SEED = 1  # of the noise of brightness, another than that of the colour
# How far the law of colour errs in each draw, in standard errors; not in the fit itself.
LAW_NOISE = np.append(0.0, np.random.default_rng(2).standard_normal(DRAWS))


@dataclass(frozen=True, slots=True, kw_only=True)
class NarrowStripes:
    """What tells the decay of 3 mm in a colour where JPEG may have lost the colour of stripes.

    Attributes
    ----------
    colour, brightness : Profile
        What the stripes send from each depth in that colour alone, and in brightness.
    width_px : float
        How wide a stripe of 3 mm is seen [px].
    channel : int
        Which colour it is: R, G or B (0, 1, 2).
    """

    colour: Profile
    brightness: Profile
    width_px: float
    channel: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HazeEstimate:
    """The haze by one profile.

    Attributes
    ----------
    haze_per_m, std_per_m : float
        Haze and its standard error [1/m]; the bound itself when `bound` is set.
    bound : Bound or None
        Set when the true value lies only above or below.
    decay_per_m, decay_std_per_m : float
        Decay of the relative contrast, in the scale in which it is in proportion to the haze of
        one kind of water, and its standard error [1/m]; NaN where nothing shows.
    murky : bool
        Whether the haze was found without that proportion.
    """

    haze_per_m: float
    std_per_m: float
    bound: Bound | None
    decay_per_m: float
    decay_std_per_m: float
    murky: bool


def estimate_haze(
    profile: Profile, view_cos: float, narrow: NarrowStripes | None = None
) -> HazeEstimate:
    """Estimate the haze of a tub from one profile, by nothing but it.

    Parameters
    ----------
    profile : Profile
        What the stripes send from each depth.
    view_cos : float
        Cosine of the angle in air between sight line and upright.
    narrow : NarrowStripes, optional
        What tells the decay of 3 mm better in murky water, where stripes may have lost colour.

    Notes
    -----
    Murky water by the decays of 3 mm, 8 mm and relative contrast together; clear water by the
    relative contrast, whose proportion to the haze differs between waters.
    """
    slopes = fit_slopes(profile, DRAWS)
    decay = linear_decay(slopes.far_per_m, view_cos)
    decay_per_m = float(decay[0])
    decay_std = _with_place(decay_per_m, float(np.std(decay[1:])))
    for own in (slopes,) if narrow is None else (_with_narrow(slopes, narrow), slopes):
        murky = _murky(own, view_cos, decay_per_m, decay_std)
        if murky is not None:
            return murky
    if not np.isfinite(decay_per_m) or not np.isfinite(decay_std):
        return _lost(profile)
    if slopes.far_per_m[0] > CLEAR_DECAYS_PER_M[1]:
        return _unlike_water()
    return _clear(slopes, view_cos, decay_per_m, decay_std)


def _with_narrow(slopes: SlopeFit, narrow: NarrowStripes) -> SlopeFit:
    """Tell the decay of 3 mm by its colour and by brightness, each weighed by its error."""
    law = colour_law()
    own = fit_loss(narrow.colour, DRAWS)
    bright = fit_loss(narrow.brightness, DRAWS, BRIGHT_SEED)
    told = law.factors[narrow.channel] * bright
    trust = np.array(
        [
            _trust(own, law.own_std_at(narrow.width_px)),
            _trust(told, law.bright_std),
        ]
    )
    if not trust.any():
        return slopes
    both = (trust @ np.nan_to_num([own, told])) / trust.sum()
    noise = LAW_NOISE / np.sqrt(trust.sum())
    return replace(slopes, fine_per_m=slopes.coarse_per_m * np.exp(both + noise))


def _trust(drawn: FloatArray, std: float) -> float:
    """Return the weight of a loss by its law's error and its draws; 0 where it is not seen."""
    if not np.isfinite(drawn).all():
        return 0.0
    return float(1 / (std**2 + np.var(drawn[1:])))


def linear_decay(far_per_m: FloatArray, view_cos: float) -> FloatArray:
    """Return decays of relative contrast, shape (draws,), in proportion to the haze [1/m].

    Beyond where the law was derived its factor stays that of the nearest end.
    """
    with np.errstate(invalid="ignore"):
        inside = np.clip(far_per_m, *CLEAR_DECAYS_PER_M)
    return far_per_m * np.exp(slope_law().clear(clear_variables(inside, view_cos)))


def _with_place(decay_per_m: float, std: float) -> float:
    return float(np.hypot(np.hypot(std, EMPTY_DECAY_STD_PER_M), PLACE_LOG_STD * decay_per_m))


def _murky(
    slopes: SlopeFit, view_cos: float, decay_per_m: float, decay_std: float
) -> HazeEstimate | None:
    """Estimate the haze of murky water by all its decays; None for clear water.

    The edge of a shadow that crosses the stripes steepens all but the relative contrast: where
    that one contradicts, the haze lies between the two, and so wide is its error.
    """
    low, high = MURKY_SLOPES_PER_M
    variables = murky_variables(slopes, view_cos)
    if not low <= slopes.fine_per_m[0] <= high or variables[0, 1:3].max() > MOST_LOG_RATIO:
        return None
    law = slope_law()
    with np.errstate(invalid="ignore"):
        logs = law.murky(variables) + np.log(slopes.fine_per_m)
    drawn = logs[1:][np.isfinite(logs[1:])]
    if not np.isfinite(logs[0]) or len(drawn) < DRAWS * 3 // 4:
        return None
    place = float(np.hypot(PLACE_LOG_STD, DEPTH_STD_M * np.exp(logs[0])))
    std = float(np.sqrt(np.std(drawn) ** 2 + law.murky_log_std**2 + place**2))
    if std > WORST_MURKY_LOG_STD:
        return None
    apart = max(float(logs[0]) - _most_by_decay(slopes, view_cos, decay_per_m), 0.0)
    haze, std = float(np.exp(logs[0] - apart / 2)), float(np.hypot(std, apart))
    return HazeEstimate(
        haze_per_m=haze,
        std_per_m=haze * std,
        bound=None,
        decay_per_m=decay_per_m,
        decay_std_per_m=decay_std,
        murky=True,
    )


def _most_by_decay(slopes: SlopeFit, view_cos: float, decay_per_m: float) -> float:
    """Return the logarithm of the most haze that the relative contrast allows."""
    if decay_per_m > CLEAR_DECAYS_PER_M[1] or not np.isfinite(decay_per_m):
        return np.inf
    log_gain, log_std = _gain(slopes, view_cos, known=True)
    return float(np.log(max(decay_per_m, CLEAR_DECAYS_PER_M[0])) + log_gain + SURE * log_std)


def _clear(slopes: SlopeFit, view_cos: float, decay_per_m: float, decay_std: float) -> HazeEstimate:
    """Estimate the haze of clear water, whose proportion to the decay is known only roughly."""
    if decay_per_m < SURE * decay_std:
        _, worst = _gain(slopes, view_cos, known=False)
        most = max(decay_per_m, 0.0) + SURE * decay_std
        bound = most * float(np.exp(worst))
        return HazeEstimate(
            haze_per_m=bound,
            std_per_m=bound / SURE,
            bound=Bound.BELOW,
            decay_per_m=decay_per_m,
            decay_std_per_m=decay_std,
            murky=False,
        )
    log_gain, log_std = _gain(slopes, view_cos, known=True)
    haze = decay_per_m * float(np.exp(log_gain))
    return HazeEstimate(
        haze_per_m=haze,
        std_per_m=haze * float(np.hypot(log_std, decay_std / decay_per_m)),
        bound=None,
        decay_per_m=decay_per_m,
        decay_std_per_m=decay_std,
        murky=False,
    )


def _gain(slopes: SlopeFit, view_cos: float, *, known: bool) -> tuple[float, float]:
    """Return the logarithm of haze over decay and its error, by the signs of the kind of water.

    The mean of a joint normal law given the signs, their own noise added: noisy ones count for
    less. Without `known` signs, the law of all waters.
    """
    law = slope_law()
    if not known:
        return 0.0, float(np.sqrt(law.covariance[0, 0]))
    variables = clear_variables(np.clip(slopes.far_per_m, *CLEAR_DECAYS_PER_M), view_cos)
    means = np.column_stack([sign(variables) for sign in law.signs])
    signs = kind_signs(slopes) - means
    among, across = law.covariance[1:, 1:], law.covariance[0, 1:]
    scale = np.sqrt(np.diag(among))
    first = np.clip(signs[0], -FARTHEST_SIGN * scale, FARTHEST_SIGN * scale)
    weights = np.linalg.solve(among + np.cov(signs[1:].T), across)
    variance = law.covariance[0, 0] - weights @ across
    return float(weights @ first), float(np.sqrt(variance))


def _unlike_water() -> HazeEstimate:
    """Read no stripes that fade as in murky water by one sign and as in clear by another."""
    unknown = float("nan")
    return HazeEstimate(
        haze_per_m=unknown,
        std_per_m=unknown,
        bound=None,
        decay_per_m=unknown,
        decay_std_per_m=unknown,
        murky=False,
    )


def _lost(profile: Profile) -> HazeEstimate:
    """Return what the haze is at least when the stripes are lost at once."""
    noise = profile.coarse_std[:LOST_BINS].mean()
    seen = max(float(profile.coarse[:LOST_BINS].mean()) + SURE * noise, LEAST_SHARE)
    path_m = float(profile.path_m[:LOST_BINS].mean())
    least = max(np.log(START_SHARE / seen) / path_m, 0.0)
    return HazeEstimate(
        haze_per_m=float(least),
        std_per_m=float(least) / 4,
        bound=Bound.ABOVE,
        decay_per_m=float("nan"),
        decay_std_per_m=float("nan"),
        murky=True,
    )
