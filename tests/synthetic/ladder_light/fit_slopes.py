"""Derives calibration/ladder_slopes.csv from path-traced tubs.

Run as ``python -m tests.synthetic.ladder_light.fit_slopes``; it writes the table anew. The tubs are
those of design.npz (see make_light); none of those by which readings are judged is among them.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from sklearn.linear_model import Ridge
from sklearn.preprocessing import PolynomialFeatures

from greasecheck.measure.ladder.slopes import Profile, fit_slopes
from greasecheck.reference.folder import data_folder
from greasecheck.reference.ladder.slopes import (
    CLEAR_DECAYS_PER_M,
    TABLE,
    Polynomial,
    SlopeFit,
    clear_variables,
    fall_of,
    kind_signs,
    murky_variables,
)
from tests.synthetic.ladder_light.make_light import DESIGNS, GAIN_TUBS
from tests.synthetic.ladder_light.scenes import GAIN_STEPS, design_scenes, gain_scenes, scene_of

if TYPE_CHECKING:
    from greasecheck.model import BoolArray, FloatArray
    from tests.synthetic.ladder_light.scenes import Tub, Water
    from tests.synthetic.ladder_light.tub import TubScene

# Waters that baths can be: fat emulsions g 0.48 to 0.80 (Michels, Foschum & Kienle 2008), larger
# particles up to 0.95; what lies outside is not fitted.
SCATTER = (0.55, 0.95)
MURKY_PER_M, CLEAR_PER_M = (6.0, 120.0), (0.5, 14.0)
LEAST_FAR_PER_M = 0.05
FEWEST_STEPS, CROSSED_LOG_STD = 7, 0.2  # of a tub whose gain is fitted
STEP_MM = 2.5
HEADER = """\
# title: Haze of a bath from the decay of a ladder's contrast
# source: tests/synthetic/ladder_light/fit_slopes.py, from path-traced tubs of many kinds
# author: the greasecheck founders
# year: 2026
# doi: none
# licence: as the package
# units: slopes in 1/m; logarithms are natural; powers are of the variables of SlopeLaw
"""


def profile_of(scene: TubScene, light: FloatArray, error: FloatArray) -> Profile:
    """Return what a ladder shows of a traced tub, every 2.5 mm of depth.

    Parameters
    ----------
    scene : TubScene
        The tub.
    light, error : ndarray, shape (DEPTHS, PATTERNS)
        Radiances over that of dry white of reflectance 1, and their errors.
    """
    traced = np.array(scene.points_mm)
    depth = np.arange(STEP_MM / 2, traced[-1], STEP_MM)
    scaled, noise = light / scene.white, error / scene.white
    pairs = {"fine": (0, 1), "coarse": (2, 3)}
    contrast = {name: scaled[:, a] - scaled[:, b] for name, (a, b) in pairs.items()}
    noises = {name: np.hypot(noise[:, a], noise[:, b]) for name, (a, b) in pairs.items()}
    return Profile(
        depth_mm=depth,
        path_m=depth / scene.sight_cos / 1000,
        fine=_between(depth, traced, contrast["fine"]),
        coarse=_between(depth, traced, contrast["coarse"]),
        white=np.interp(depth, traced, scaled[:, 2]),
        fine_std=np.interp(depth, traced, noises["fine"]),
        coarse_std=np.interp(depth, traced, noises["coarse"]),
        white_std=np.interp(depth, traced, noise[:, 2]),
    )


def _between(depth: FloatArray, traced: FloatArray, contrast: FloatArray) -> FloatArray:
    """Interpolate what decays, in its logarithm."""
    return np.exp(np.interp(depth, traced, np.log(np.maximum(contrast, 1e-5))))


def seen_of(
    pairs: list[tuple[Tub, Water]], name: str
) -> tuple[FloatArray, FloatArray, FloatArray, list[SlopeFit]]:
    """Return haze, g, cosine of the angle of view, and the slopes of each traced tub."""
    traced = np.load(Path(__file__).with_name(f"{name}.npz"))
    light, error = traced["light"][:, 0], traced["error"][:, 0].astype(float)
    scenes = [scene_of(tub, water, 0) for tub, water in pairs]
    slopes = [fit_slopes(profile_of(scene, light[n], error[n])) for n, scene in enumerate(scenes)]
    haze = np.array([water.attenuation_per_m[0] for _, water in pairs])
    forward = np.array([water.g_forward for _, water in pairs])
    view = np.cos(np.radians([tub.view_deg for tub, _ in pairs]))
    return haze, forward, view, slopes


def fitted(variables: FloatArray, wanted: FloatArray) -> tuple[PolynomialFeatures, FloatArray]:
    """Fit a quadratic; return it and its coefficients, the constant first."""
    terms = PolynomialFeatures(2)
    design_matrix = terms.fit_transform(variables)
    model = Ridge(alpha=1e-3, fit_intercept=False)
    return terms, model.fit(design_matrix, wanted).coef_


def rows_of(part: str, terms: PolynomialFeatures, factors: FloatArray) -> list[str]:
    """Write a polynomial as lines of the table."""
    return [
        f"{part},{' '.join(str(int(power)) for power in powers)},{factor:.6g}"
        for powers, factor in zip(terms.powers_, factors, strict=True)
    ]


def derive() -> list[str]:
    """Fit everything; return the lines of the table."""
    haze, forward, view, slopes = seen_of(design_scenes(DESIGNS), "design")
    usable = (forward >= SCATTER[0]) & (forward <= SCATTER[1])
    lines = ["part,powers,value"]
    murky = np.concatenate([murky_variables(one, c) for one, c in zip(slopes, view, strict=True)])
    fine = np.array([one.fine_per_m[0] for one in slopes])
    within = usable & np.isfinite(murky).all(axis=1) & _between_limits(haze, MURKY_PER_M)
    lines += _fit_part("murky", murky[within], np.log(haze[within] / fine[within]))
    far = np.array([one.far_per_m[0] for one in slopes])
    within = usable & (far > LEAST_FAR_PER_M) & _between_limits(haze, CLEAR_PER_M)
    lines += _clear_parts(
        haze[within], view[within], [one for one, used in zip(slopes, within, strict=True) if used]
    )
    return lines + _gain_parts(_polynomial([line.split(",") for line in lines], "clear"))


def _between_limits(haze: FloatArray, limits: tuple[float, float]) -> BoolArray:
    inside: BoolArray = (haze >= limits[0]) & (haze <= limits[1])
    return inside


def _clear_parts(haze: FloatArray, view: FloatArray, slopes: list[SlopeFit]) -> list[str]:
    """Fit the mean law of clear water, the signs of its kind, and their covariance."""
    far = np.array([one.far_per_m[0] for one in slopes])
    variables = np.concatenate(
        [clear_variables(one.far_per_m, c) for one, c in zip(slopes, view, strict=True)]
    )
    wanted = np.log(haze / far)
    lines = _fit_part("clear", variables, wanted)
    seen = np.concatenate([kind_signs(one) for one in slopes]).T
    for name, sign in zip(("dimming", "forwardness"), seen, strict=True):
        lines += rows_of(name, *fitted(variables, sign))
    rest = np.stack([one - _value(variables, one) for one in (wanted, *seen)])
    covariance = np.cov(rest)
    known = covariance[0, 0] - covariance[0, 1:] @ np.linalg.solve(
        covariance[1:, 1:], covariance[1:, 0]
    )
    print(f"gain: {covariance[0, 0] ** 0.5:.3f}, {known**0.5:.3f} once the signs are known")
    return lines + [
        f"covariance,{row} {column},{covariance[row, column]:.6g}"
        for row in range(3)
        for column in range(3)
    ]


def _gain_parts(clear: Polynomial) -> list[str]:
    """Fit how haze over decay runs along the hazes of one tub, and how that differs between tubs.

    Lines with random coefficients (Swamy 1970, Econometrica 38, 311): those of single tubs by least
    squares, their covariance less that of the errors of each. Where the edge of a shadow crosses
    the stripes no line fits; readings of such photos are doubtful, and they are left out here.
    """
    haze, forward, view, slopes = seen_of(gain_scenes(GAIN_TUBS), "gain")
    far = np.array([one.far_per_m[0] for one in slopes])
    decay = far * np.exp(clear(clear_variables(np.clip(far, *CLEAR_DECAYS_PER_M), view)))
    used = (far > LEAST_FAR_PER_M) & (decay < 2 * CLEAR_DECAYS_PER_M[1])
    used &= _between_limits(forward, SCATTER)
    tubs = np.arange(len(far)) // GAIN_STEPS
    found, errors = [], []
    for own in ((tubs == tub) & used for tub in range(GAIN_TUBS)):
        lines = np.column_stack([np.ones(own.sum()), fall_of(decay[own])])
        if len(lines) < FEWEST_STEPS:
            continue
        fit, (left,), *_ = np.linalg.lstsq(lines, np.log(haze / decay)[own], rcond=None)
        if left < len(lines) * CROSSED_LOG_STD**2:
            found.append([*fit, left / (len(lines) - 2)])
            errors.append(np.linalg.inv(lines.T @ lines))
    *fits, variance = np.transpose(found)
    photo = variance.mean()
    mean, covariance = np.mean(fits, axis=1), np.cov(fits) - photo * np.mean(errors, axis=0)
    print(f"gain: {len(found)} tubs, one photo strays by {photo**0.5:.3f} from its tub's line")
    return [
        *(f"gain,{row},{mean[row]:.6g}" for row in range(2)),
        *(
            f"gain_covariance,{row} {column},{covariance[row, column]:.6g}"
            for row in range(2)
            for column in range(2)
        ),
        f"photo_log_std,,{photo**0.5:.4f}",
    ]


def _polynomial(rows: list[list[str]], part: str) -> Polynomial:
    own = [(powers.split(), factor) for name, powers, factor in rows if name == part]
    return Polynomial(
        powers=np.array([powers for powers, _ in own], dtype=float),
        factors=np.array([factor for _, factor in own], dtype=float),
    )


def _value(variables: FloatArray, wanted: FloatArray) -> FloatArray:
    terms, factors = fitted(variables, wanted)
    value: FloatArray = terms.transform(variables) @ factors
    return value


def _fit_part(part: str, variables: FloatArray, wanted: FloatArray) -> list[str]:
    """Fit one law; its error is that of tubs left out, four at a time of five."""
    terms, factors = fitted(variables, wanted)
    fold = np.arange(len(wanted)) % 5
    left = np.empty_like(wanted)
    for one in range(5):
        own, part_factors = fitted(variables[fold != one], wanted[fold != one])
        left[fold == one] = (
            wanted[fold == one] - own.transform(variables[fold == one]) @ part_factors
        )
    print(
        f"{part}: {len(wanted)} tubs, error {left.std():.3f}, in 4 of 5 within "
        f"{np.percentile(np.abs(left), 80):.3f}"
    )
    return [*rows_of(part, terms, factors), f"{part}_log_std,,{left.std():.4f}"]


if __name__ == "__main__":
    table = data_folder("calibration") / TABLE
    table.write_text(HEADER + "\n".join(derive()) + "\n", encoding="utf-8")
