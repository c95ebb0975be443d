"""How scattering in the water changes the contrast of bars of a given width.

A contrast pattern seen through a scattering medium loses less of its contrast than a ray loses of
its radiance, since light scattered through small angles still reaches the eye from about the right
place. For a pattern of spatial frequency nu at the back of a path L (Wells 1973, small angles)

    contrast(nu) = exp(-c L + b integral_0^L P(nu z) dz)

with P the Hankel transform of the phase function and z the distance from the pattern. For the
small-angle form of the Henyey-Greenstein function with asymmetry g,

    P(nu z) = exp(-2 pi alpha nu z),  alpha = (1 - g) / sqrt(g),

so that the integral is closed. The water begins at a standoff from the pattern: the gap behind the
jar and its wall.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.water.albedo import USUAL_ALBEDO, Albedo
from greasecheck.reference.water import WATER_INDEX

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

HARMONICS = np.arange(1, 16, 2)  # of a square wave; higher ones have faded
ASYMMETRIES = np.linspace(0.60, 0.98, 77)
# Emulsions of micrometre droplets scatter with g of 0.8 to 0.95 and absorb little (Mie theory; the
# range is from memory). The prior assumes no more than that.
USUAL_ASYMMETRY = 0.88
ASYMMETRY_STD = 0.06
# A gap of 2 mm of air and a wall of 2.5 mm (n = 1.49), each times the angle's growth out of water.
STANDOFF_MM = 2 * WATER_INDEX + 2.5 * WATER_INDEX / 1.49
# The bars stand in the jar's shadow. What clear water lets through to them beyond a share that
# comes past the jar falls with the reduced optical depth (1 - albedo g) c L of murky water. Light
# on its way to the bars crosses the jar too: water that absorbs more than usual takes more of it.
# Fitted on path-traced stands by `python -m tests.benchmarks.first_sheet_constants`, except for the
# share past the jar: one lamp cannot part it from SHADOW, so it is held. SHADOW_STD is the rest.
PAST_THE_JAR = 0.65
SHADOW = 1.65
SHADOW_STD = 0.02
ABSORPTION = 1.22
MODEL_ERROR = 0.02  # relative, of a factor; what is left over on these stands


def bar_factor(
    bar_mm: float,
    path_mm: float,
    asymmetry: FloatArray,
    albedo: float | FloatArray,
    attenuation_per_m: float | FloatArray,
    standoff_mm: float = STANDOFF_MM,
) -> FloatArray:
    """Apparent over true attenuation for upright bars seen through scattering water.

    Parameters
    ----------
    bar_mm : float
        Width of one bar [mm]; the pattern's period is twice that.
    path_mm : float
        Path through the water [mm].
    asymmetry : ndarray
        Mean cosine g of the scattering angle, 0 < g < 1.
    albedo : float or ndarray
        Single-scattering albedo b / c, 0 to 1; of a shape that goes with that of the asymmetry.
    attenuation_per_m : float or ndarray
        True attenuation c [1/m]; the factor changes slowly with it since the finer harmonics of
        the bars fade first. Of a shape that goes with that of the others.
    standoff_mm : float
        Distance from the bars to the water, as a length in water [mm].

    Returns
    -------
    ndarray
        Factor, 0 to 1, in the shape that these have together.

    References
    ----------
    Wells, W. H. (1973). Theory of small angle scattering. AGARD Lecture Series 61, 3.3.
    Henyey, L. G. & Greenstein, J. L. (1941). Astrophys. J. 93, 70, eq. 2. doi:10.1086/144246

    Examples
    --------
    >>> bar_factor(2.0, 60.0, np.array([0.9]), 0.95, 20.0).round(2).tolist()
    [0.95]
    """
    blur_per_mm = 2 * np.pi * (1 - asymmetry) / np.sqrt(asymmetry) / (2 * bar_mm)
    fades_per_mm = blur_per_mm[..., np.newaxis] * HARMONICS
    depth = fades_per_mm * path_mm
    kept = np.exp(-fades_per_mm * standoff_mm) * (1 - np.exp(-depth)) / depth
    factors = 1 - np.asarray(albedo)[..., np.newaxis] * kept
    optical_depth = np.maximum(attenuation_per_m, 1e-3) * path_mm / 1000
    weights = _central_half_weights()
    contrast = np.exp(-optical_depth[..., np.newaxis] * factors) @ weights / weights.sum()
    return np.asarray(-np.log(contrast) / optical_depth)


def _central_half_weights() -> FloatArray:
    """Weight of each harmonic of a square wave in the mean over the middle half of a bar."""
    signs = np.where(HARMONICS % 4 == 1, 1.0, -1.0)
    return signs / HARMONICS * np.sinc(HARMONICS / 4)


@dataclass(frozen=True, slots=True, kw_only=True)
class ApparentAttenuation:
    """The measurement by bars of one width.

    Attributes
    ----------
    bar_mm : float
        Width of the bars [mm].
    value_per_m, std_per_m : float
        Apparent attenuation and its standard error [1/m].
    clear_ratio : float
        Wet over dry contrast of these bars in clear water.
    """

    bar_mm: float
    clear_ratio: float
    value_per_m: float
    std_per_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamAttenuation:
    """True attenuation with the scatter it was corrected for.

    Attributes
    ----------
    value_per_m, std_per_m : float
        Beam attenuation and its standard error [1/m].
    asymmetry : float
        Posterior mean of g.
    factor : float
        Apparent over true attenuation of the first of the bars given.
    misfit_std : float
        How far the widths are from any scatter that explains both, in standard errors.
    brightened_std : float
        How much better light added to the jar explains what is seen, in standard errors.
    brightened_depth : float
        Light that was added to the jar by that, the mean of what may have been, as an optical
        depth.
    """

    value_per_m: float
    std_per_m: float
    asymmetry: float
    factor: float
    misfit_std: float
    brightened_std: float = 0.0
    brightened_depth: float = 0.0


def correct_scatter(
    seen: tuple[ApparentAttenuation, ...], path_mm: float, albedo: Albedo
) -> BeamAttenuation:
    """Find the true attenuation that explains the contrast of bars of several widths.

    Wide bars gain more from forward scatter than narrow ones, so their ratio gives the asymmetry
    g. For each g on a grid the best c is a weighted mean; the answer averages over g by its
    posterior weight.

    Parameters
    ----------
    seen : tuple of ApparentAttenuation
        One or more widths, the finest first.
    path_mm : float
        Path through the water [mm].
    albedo : Albedo
        Of the water.
    """
    start = max(seen[0].value_per_m, 0.0)
    factors = np.stack(
        [_factor(one.bar_mm, path_mm, one.clear_ratio, albedo, start) for one in seen]
    )
    values = np.array([[one.value_per_m] for one in seen])
    noise = np.array([[one.std_per_m] for one in seen])
    variance = noise**2 + values**2 * (MODEL_ERROR**2 + (SHADOW_STD / factors) ** 2)
    information = (factors**2 / variance).sum(axis=0)
    best = (factors * values / variance).sum(axis=0) / information
    misfit = ((values - factors * best) ** 2 / variance).sum(axis=0)
    log_weight = -misfit / 2 - (((ASYMMETRIES - USUAL_ASYMMETRY) / ASYMMETRY_STD) ** 2) / 2
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    mean = float(weight @ best)
    absorbed = ABSORPTION * albedo.std * mean / float(weight @ factors[0])
    return BeamAttenuation(
        value_per_m=mean,
        std_per_m=float(np.sqrt(weight @ (1 / information + (best - mean) ** 2) + absorbed**2)),
        asymmetry=float(weight @ ASYMMETRIES),
        factor=float(weight @ factors[0]),
        misfit_std=float(np.sqrt(misfit.min())),
    )


def usual_factor(
    bar_mm: float, path_mm: float, attenuation_per_m: float, clear_ratio: float
) -> float:
    """Apparent over true attenuation for a suspension of the usual asymmetry."""
    usual = Albedo(value=USUAL_ALBEDO, std=0.0)
    factors = _factor(bar_mm, path_mm, clear_ratio, usual, attenuation_per_m)
    return float(np.interp(USUAL_ASYMMETRY, ASYMMETRIES, factors))


def _factor(
    bar_mm: float, path_mm: float, clear_ratio: float, albedo: Albedo, attenuation_per_m: float
) -> FloatArray:
    """Apparent over true attenuation on the grid of asymmetries."""
    scatter = bar_factor(bar_mm, path_mm, ASYMMETRIES, albedo.value, attenuation_per_m)
    absorbed = ABSORPTION * (USUAL_ALBEDO - albedo.value)
    return scatter + shadow_factor(clear_ratio) + absorbed


def shadow_factor(clear_ratio: float) -> FloatArray:
    """Return what the jar's shadow adds to the factor, on the grid of asymmetries.

    Parameters
    ----------
    clear_ratio : float
        Wet over dry contrast of the bars in clear water: how much light the jar lets onto them.
    """
    through = max(1 - PAST_THE_JAR / clear_ratio, 0.0)
    return SHADOW * through * (1 - USUAL_ALBEDO * ASYMMETRIES)
