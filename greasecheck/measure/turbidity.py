"""From attenuation to turbidity units, by the user's own dilution series."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from greasecheck.errors import DataFileError, WaterError
from greasecheck.measure.straight_line import fit_line

if TYPE_CHECKING:
    from collections.abc import Sequence

SCHEMA = 1
KIND = "turbidity scale"
FEWEST_POINTS = 3
CURVED = 3.0  # root mean square misfit, in errors, beyond which a series is no line
LARGEST, SMALLEST_STD = 1e6, 1e-6  # far beyond any water; false for NaN
HINT = "make the turbidity scale again"


@dataclass(frozen=True, slots=True, kw_only=True)
class Turbidity:
    """A turbidity with its standard error, in the unit of its scale."""

    value: float
    std: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TurbidityScale:
    """A straight line through zero from attenuation to turbidity.

    Attributes
    ----------
    slope, slope_std : float
        Turbidity per attenuation [unit m] and its standard error.
    unit : str
        "FNU" by a formazin series, "NTU (rough)" without a series of one's own.
    points : int
        How many dilutions it rests on; 0 for the rough scale.
    """

    slope: float
    slope_std: float
    unit: str
    points: int

    def turbidity(self, attenuation_per_m: float, std_per_m: float) -> Turbidity:
        """Return the turbidity of water of a given attenuation [1/m]."""
        return Turbidity(
            value=self.slope * attenuation_per_m,
            std=float(np.hypot(self.slope * std_per_m, self.slope_std * attenuation_per_m)),
        )


# Rough, and a factor of two either way: beam attenuation near 550 nm of 0.5 to 2 per metre for
# each NTU of natural suspensions (Davies-Colley & Smith 2001, J. Am. Water Resour. Assoc. 37, 1085,
# doi:10.1111/j.1752-1688.2001.tb03624.x; the figures are from memory).
ROUGH_SCALE = TurbidityScale(slope=1.0, slope_std=0.5, unit="NTU (rough)", points=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dilution:
    """One step of a dilution series.

    Attributes
    ----------
    turbidity, turbidity_std : float
        Known turbidity and its standard error, in the unit of the series.
    attenuation_per_m, std_per_m : float
        Measured attenuation and its standard error [1/m].
    """

    turbidity: float
    turbidity_std: float
    attenuation_per_m: float
    std_per_m: float


def fit_scale(series: Sequence[Dilution], unit: str) -> TurbidityScale:
    """Fit a straight line through zero to a dilution series, with errors on both axes.

    Parameters
    ----------
    series : sequence of Dilution
        At least three steps of different turbidity.
    unit : str
        Unit of the known turbidities, such as "FNU".

    Raises
    ------
    WaterError
        When there are too few steps or they do not lie on a line.

    References
    ----------
    York et al. (2004), American Journal of Physics 72, 367, with the intercept held at zero; see
    `fit_line`.
    """
    _refuse_unusable(series)
    line = fit_line(
        np.array([step.attenuation_per_m for step in series]),
        np.array([step.turbidity for step in series]),
        np.array([step.std_per_m for step in series]),
        np.array([step.turbidity_std for step in series]),
        through_zero=True,
    )
    if line.misfit > CURVED**2:
        raise WaterError(
            "the dilution series does not lie on a straight line: the steps are off by "
            f"{line.misfit**0.5:.1f} times their errors",
            hint="mix each step afresh, photograph it at once, and leave out steps above the range",
        )
    std = line.slope_std * max(line.misfit, 1.0) ** 0.5
    return TurbidityScale(slope=line.slope, slope_std=std, unit=unit, points=len(series))


def _refuse_unusable(series: Sequence[Dilution]) -> None:
    """Raise WaterError for what no straight line through zero can be fitted to."""
    if not all(map(_is_usable, series)):
        raise WaterError(
            "a dilution series needs finite numbers with standard errors above 0",
            hint="give turbidity_std, and leave out steps without a reading",
        )
    if len({round(step.turbidity, 6) for step in series}) < FEWEST_POINTS:
        raise WaterError(
            f"a dilution series needs at least {FEWEST_POINTS} different steps, not {len(series)}",
            hint="add steps between clear water and the murkiest bath you want to measure",
        )
    if sum(step.turbidity * step.attenuation_per_m for step in series) <= 0:
        raise WaterError(
            "the turbidities do not rise with the attenuations",
            hint="check which column is which; clear water has attenuation 0",
        )


def _is_usable(step: Dilution) -> bool:
    stds = (step.turbidity_std, step.std_per_m)
    sane = np.abs([step.turbidity, step.attenuation_per_m, *stds]).max() <= LARGEST
    return bool(sane and min(stds) >= 0 and max(stds) >= SMALLEST_STD)


def scale_to_json(scale: TurbidityScale) -> str:
    """Write a scale as the text of a JSON file, readable by `scale_from_json`."""
    body = {
        "schema": SCHEMA,
        "kind": KIND,
        "unit": scale.unit,
        "slope_per_attenuation_m": scale.slope,
        "slope_std": scale.slope_std,
        "points": scale.points,
    }
    return json.dumps(body, indent=2, allow_nan=False) + "\n"


def scale_from_json(text: str, name: str) -> TurbidityScale:
    """Read a scale from the text of the JSON file `name`.

    Raises
    ------
    DataFileError
        When the text is no turbidity scale of a known schema.
    """
    try:
        body = json.loads(text)
        if body["kind"] != KIND or body["schema"] != SCHEMA:
            raise DataFileError(f"{name} is not a turbidity scale of schema {SCHEMA}", hint=HINT)
        return _from_body(body)
    except (ArithmeticError, KeyError, RecursionError, TypeError, ValueError) as error:
        raise DataFileError(f"{name} is no turbidity scale: {error!r}", hint=HINT) from error


def _from_body(body: dict[str, Any]) -> TurbidityScale:
    scale = TurbidityScale(
        slope=float(body["slope_per_attenuation_m"]),
        slope_std=float(body["slope_std"]),
        unit=str(body["unit"]),
        points=int(body["points"]),
    )
    if not (0 < scale.slope < np.inf and 0 <= scale.slope_std < np.inf):
        raise ValueError("its slope must be a finite number above 0")
    return scale
