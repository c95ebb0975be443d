"""From the decay of a ladder's contrast to the haze of the water."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.ladder.slopes import LEAST_SHARE, fit_slopes
from greasecheck.measure.sight.view import MAIN_CHANNEL
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
MOST_DRAWS = DRAWS * 3 // 4  # that must show a decay for its error to be known
# Slopes of 3 mm between which the law of murky water was derived [1/m], and how well they must be
# known for it.
MURKY_SLOPES_PER_M = (9.0, 130.0)
WORST_MURKY_LOG_STD = 0.35
CLEAR_HAZE_PER_M = 14.0  # up to which the gain of clear water was derived
# In water the contrast of 8 mm decays no faster than that of 3 mm: in no tub of the design by more
# than 0.01 in logarithms; the rest is room for noise. Beyond it something covers the stripes.
MOST_LOG_RATIO = 0.1
# What moves a slope beside the noise: 2 mm of level 1 %, 5 degrees of lean 3 %, the lens 1 %.
PLACE_LOG_STD = 0.02
# How well the depth is known over which murky water hides the stripes, by edges, blur and bins;
# tests/synthetic/ladder_light/fit_colour.py prints less, from few photos of more than 60 per m.
DEPTH_STD_M = 0.001
# How far the relative contrast of a ladder in clear water, and that of 3 mm over 8 mm, may rise or
# fall along the path by reflections and uneven stripes: as much as black that is lighter by 3 L* at
# one end of the stripes. An allowance, since how evenly printers print was not measured: three
# times what a standard deviation of 0.5 L* over the nine fields of a page, all that ISO 12647-7
# (from memory) grants a proof, makes of a steady drift.
MOST_EMPTY_DECAY_PER_M = 0.06
# Any decay up to there is as likely as any other (JCGM 100:2008, 4.3.7). It decides below which
# haze there is only a bound.
EMPTY_DECAY_STD_PER_M = MOST_EMPTY_DECAY_PER_M / 3**0.5
SURE = 2.0  # standard errors
# Contrast just under the surface over dry contrast: 0.4 to 0.6 in traced tubs.
START_SHARE, MOST_START_SHARE = 0.45, 0.6
LOST_BINS = 2
# How far the law of colour errs in each draw, in standard errors; not in the fit itself.
LAW_NOISE = np.append(0.0, np.random.default_rng(2).standard_normal(DRAWS))
# Likewise for the light down the plate: common to all colours, then that of R, G, B.
LIGHT_NOISE = np.column_stack([np.zeros(4), np.random.default_rng(4).standard_normal((4, DRAWS))])
# Likewise for the ink of stripes of 3 and of 8 mm, with a standard deviation of 1 each and unlike
# each other: ink that is lighter or darker the lower is so in all colours alike.
PRINT_NOISE = np.random.default_rng(5).standard_normal((DRAWS, 2))
PRINT_NOISE = np.linalg.qr(PRINT_NOISE - PRINT_NOISE.mean(axis=0))[0].T * np.sqrt(DRAWS)
PRINT_NOISE = np.column_stack([np.zeros(2), PRINT_NOISE])


@dataclass(frozen=True, slots=True, kw_only=True)
class Colours:
    """What all colours of a ladder tell of the water in one of them.

    Attributes
    ----------
    channel : int
        Which colour it is: R, G or B (0, 1, 2).
    stripe_px : float
        How wide a stripe of 3 mm is seen [px]; JPEG may have lost the colour of narrow ones.
    bright_loss : ndarray, shape (1 + DRAWS,)
        Logarithm of the decay of 3 mm over that of 8 mm in brightness.
    signs : ndarray, shape (1 + DRAWS, 3)
        What red and blue tell of the kind of water, see `colour_signs`.
    """

    channel: int
    stripe_px: float
    bright_loss: FloatArray
    signs: FloatArray


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value and its standard error."""

    value: float
    std: float


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
    profile: Profile, view_cos: float, colours: Colours | None = None
) -> HazeEstimate:
    """Estimate the haze of a tub from one profile.

    Parameters
    ----------
    profile : Profile
        What the stripes send from each depth.
    view_cos : float
        Cosine of the angle in air between sight line and upright.
    colours : Colours, optional
        What the other colours tell of it; without them the profile stands for itself.

    Notes
    -----
    Murky water by the decays of 3 mm, 8 mm and relative contrast together; clear water by the
    relative contrast, whose proportion to the haze differs between waters.
    """
    channel = MAIN_CHANNEL if colours is None else colours.channel
    slopes = fit_drawn(profile, channel)
    signs, blur_per_m = np.full((1 + DRAWS, 3), np.nan), 0.0
    if colours is not None:
        slopes, signs = with_brightness(slopes, colours), colours.signs
        blur_per_m = colour_law().blur_at(colours.stripe_px, channel)
    slopes = _with_prints(slopes)
    decays = linear_decay(slopes.far_per_m, view_cos)
    decay = Estimate(float(decays[0]), _with_place(float(decays[0]), float(np.std(decays[1:]))))
    by_all = _by_all(slopes, view_cos, signs[:, 1])
    if by_all is None and not np.isfinite([decay.value, decay.std]).all():
        return _lost(profile)
    if not slopes.far_per_m[0] <= CLEAR_DECAYS_PER_M[1]:
        return _unlike_water() if by_all is None else _haze(by_all, decay, murky=True)
    sure = bool(decay.value >= SURE * decay.std)
    log_errors = decays / decay.value - 1 if sure else np.zeros_like(decays)
    sharp = replace(slopes, fine_per_m=slopes.fine_per_m - blur_per_m)
    gain = _gain(sharp, view_cos, np.column_stack([signs[:, [0, 2]], log_errors]), channel)
    by_decay = _by_decay(decay, gain) if sure else None
    if by_all is not None:
        return _haze(_agreed(by_all, by_decay), decay, murky=True)
    return _bound_below(decay, gain) if by_decay is None else _haze(by_decay, decay, murky=False)


def fit_drawn(profile: Profile, channel: int) -> SlopeFit:
    """Fit all decays in R, G or B (0, 1, 2), and of copies as noise and light may change them."""
    law = colour_law()
    slopes = fit_slopes(profile, DRAWS, channel)
    light = law.light_std * LIGHT_NOISE[0] + law.own_light_std * LIGHT_NOISE[1 + channel]
    ink = EMPTY_DECAY_STD_PER_M * PRINT_NOISE[1]
    return replace(
        slopes,
        near_per_m=slopes.near_per_m + ink,
        far_per_m=slopes.far_per_m + ink,
        white_per_m=slopes.white_per_m + light,
    )


def _with_prints(slopes: SlopeFit) -> SlopeFit:
    """Let ink change the contrast of the copies, too, as `fit_drawn` does that over white."""
    fine, coarse = EMPTY_DECAY_STD_PER_M * PRINT_NOISE
    return replace(
        slopes, fine_per_m=slopes.fine_per_m + fine, coarse_per_m=slopes.coarse_per_m + coarse
    )


def with_brightness(slopes: SlopeFit, colours: Colours) -> SlopeFit:
    """Estimate the decay of 3 mm by its colour and by brightness, each weighed by its error."""
    law = colour_law()
    with np.errstate(invalid="ignore", divide="ignore"):
        own = np.log(slopes.fine_per_m / slopes.coarse_per_m)
    told = law.factors[colours.channel] * colours.bright_loss
    stds = np.array([law.own_std_at(colours.stripe_px), law.bright_std])
    trust = np.array([_trust(one, std) for one, std in zip((own, told), stds, strict=True)])
    if not trust.any():
        return slopes
    shares = trust / trust.sum()
    both = shares @ np.where(trust[:, None] > 0, [own, told], 0.0)
    noise = LAW_NOISE * np.linalg.norm(shares * stds)  # that of the draws is in them
    return replace(slopes, fine_per_m=slopes.coarse_per_m * np.exp(both + noise))


def _trust(drawn: FloatArray, std: float) -> float:
    """Return the weight of a loss by its law's error and its draws; 0 where it is not seen."""
    seen = drawn[np.isfinite(drawn)]
    if not np.isfinite(drawn[0]) or len(seen) < MOST_DRAWS:
        return 0.0
    return float(1 / (std**2 + np.var(seen)))


def linear_decay(far_per_m: FloatArray, view_cos: float) -> FloatArray:
    """Return decays of relative contrast, shape (draws,), in proportion to the haze [1/m].

    Beyond where the law was derived its factor stays that of the nearest end.
    """
    with np.errstate(invalid="ignore"):
        inside = np.clip(far_per_m, *CLEAR_DECAYS_PER_M)
    return far_per_m * np.exp(slope_law().clear(clear_variables(inside, view_cos)))


def _with_place(decay_per_m: float, std: float) -> float:
    return float(np.hypot(std, PLACE_LOG_STD * decay_per_m))


def _by_all(slopes: SlopeFit, view_cos: float, brown: FloatArray) -> Estimate | None:
    """Estimate the logarithm of the haze of murky water by all its decays; None for clear water."""
    low, high = MURKY_SLOPES_PER_M
    variables = murky_variables(slopes, view_cos, brown)
    if not low <= slopes.fine_per_m[0] <= high or variables[0, 1:3].max() > MOST_LOG_RATIO:
        return None
    law = slope_law()
    with np.errstate(invalid="ignore"):
        logs = law.murky(variables) + np.log(slopes.fine_per_m)
    drawn = logs[1:][np.isfinite(logs[1:])]
    if not np.isfinite(logs[0]) or len(drawn) < MOST_DRAWS:
        return None
    place = float(np.hypot(PLACE_LOG_STD, DEPTH_STD_M * np.exp(logs[0])))
    std = float(np.sqrt(np.std(drawn) ** 2 + law.murky_log_std**2 + place**2))
    return Estimate(float(logs[0]), std) if std <= WORST_MURKY_LOG_STD else None


def _by_decay(decay: Estimate, gain: Estimate) -> Estimate:
    """Estimate the logarithm of the haze by the decay of relative contrast and its gain."""
    log_haze = float(np.log(decay.value)) + gain.value
    return Estimate(log_haze, float(np.hypot(gain.std, PLACE_LOG_STD)))


def _agreed(by_all: Estimate, by_decay: Estimate | None) -> Estimate:
    """Put both ways to tell the logarithm of the haze together.

    The edge of a shadow that crosses the stripes steepens all but the relative contrast: where
    that one contradicts, the haze lies between the two, and so wide is its error.
    """
    if by_decay is None:
        return by_all
    apart = max(by_all.value - by_decay.value - SURE * by_decay.std, 0.0)
    if by_all.value > np.log(CLEAR_HAZE_PER_M) or apart > 0:
        return Estimate(by_all.value - apart / 2, float(np.hypot(by_all.std, apart)))
    trust = np.array([by_all.std, by_decay.std]) ** -2
    both = float(trust @ [by_all.value, by_decay.value] / trust.sum())
    return Estimate(both, float(trust.sum() ** -0.5))


def _haze(log_haze: Estimate, decay: Estimate, *, murky: bool) -> HazeEstimate:
    haze = float(np.exp(log_haze.value))
    return HazeEstimate(
        haze_per_m=haze,
        std_per_m=haze * log_haze.std,
        bound=None,
        decay_per_m=decay.value,
        decay_std_per_m=decay.std,
        murky=murky,
    )


def _bound_below(decay: Estimate, gain: Estimate) -> HazeEstimate:
    """Return what the haze is at most when the relative contrast hardly decays."""
    bound = (max(decay.value, 0.0) + SURE * decay.std) * float(np.exp(gain.value + gain.std))
    return HazeEstimate(
        haze_per_m=bound,
        std_per_m=bound / SURE,
        bound=Bound.BELOW,
        decay_per_m=decay.value,
        decay_std_per_m=decay.std,
        murky=False,
    )


def _gain(slopes: SlopeFit, view_cos: float, others: FloatArray, channel: int) -> Estimate:
    """Estimate the logarithm of haze over decay by the signs of the kind of water.

    Beside the decays these are `others`, shape (1 + DRAWS, 3): two that colours tell, and how far
    the logarithm of the decay errs.
    """
    far_per_m = np.clip(slopes.far_per_m[:1], *CLEAR_DECAYS_PER_M)
    log_decay = float(clear_variables(far_per_m, view_cos)[0, 0])
    signs = np.column_stack([kind_signs(slopes), others])
    noise = np.cov(signs[1:].T)
    return Estimate(*slope_law().kind.log_gain(channel, log_decay, signs[0, :-1], noise))


def _unlike_water() -> HazeEstimate:
    """Return an unknown haze: the stripes fade as behind no water, at once or in two ways."""
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
    """Return the least haze that hides the stripes at once; unknown where they still show.

    The error of the short depth over which they are lost is that of the bound.
    """
    noise = profile.coarse_std[:LOST_BINS].mean()
    seen = max(float(profile.coarse[:LOST_BINS].mean()) + SURE * noise, LEAST_SHARE)
    path_m = float(profile.path_m[:LOST_BINS].mean())
    if seen >= START_SHARE:
        return _unlike_water()
    least = np.log(START_SHARE / seen) / path_m
    return HazeEstimate(
        haze_per_m=float(least),
        std_per_m=float(least) * DEPTH_STD_M / path_m,
        bound=Bound.ABOVE,
        decay_per_m=float("nan"),
        decay_std_per_m=float("nan"),
        murky=True,
    )
