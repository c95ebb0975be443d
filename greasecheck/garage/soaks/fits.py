"""Fits each soak once, for recipes and risks alike."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.errors import ForecastError
from greasecheck.predict.advice.backing import backing_of
from greasecheck.predict.outlook.forecasting import fit_tub
from greasecheck.predict.recipes.rate import tub_rate
from greasecheck.predict.records import ClearRule
from greasecheck.predict.yellowing.residual import residual_grease

if TYPE_CHECKING:
    from collections.abc import Mapping

    from greasecheck.garage.soaks.past import PastSoak
    from greasecheck.predict.fit.tub_fit import TubFit
    from greasecheck.predict.recipes.records import TubRate
    from greasecheck.predict.yellowing.records import Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class SoakFit:
    """Results of a soak's fit as of its end.

    Attributes
    ----------
    soak : PastSoak
        The soak.
    rate : TubRate or None
        Its leach rate, for recipes to be compared by.
    why_no_rate : str
        Why there is none, in words.
    residuals : mapping
        The share of grease that was left, by skull; empty where nothing could be fitted.
    """

    soak: PastSoak
    rate: TubRate | None
    why_no_rate: str
    residuals: Mapping[str, Measured]


def fit_soak(soak: PastSoak, fit: TubFit | None = None) -> SoakFit:
    """Return a soak with the results of its fit.

    Parameters
    ----------
    soak : PastSoak
        From `greasecheck.garage.soaks.past.past_soaks`.
    fit : TubFit, optional
        That of its history as of its end, without finished tubs, where it is made already.
    """
    try:
        fit = fit or fit_tub(soak.history, soak.until)
    except ForecastError as error:
        return SoakFit(soak=soak, rate=None, why_no_rate=_words(soak, error), residuals={})
    rate, why = None, ""
    try:
        rate = tub_rate(fit, soak.name, temperature_known=soak.temperature_known)
    except ForecastError as error:
        why = _words(soak, error)
    proved = backing_of(fit, soak.history, ClearRule()).proved
    left = residual_grease(fit, proved=proved)
    return SoakFit(soak=soak, rate=rate, why_no_rate=why, residuals=left)


def _words(soak: PastSoak, error: ForecastError) -> str:
    return error.problem.removeprefix(f"{soak.name}: ")
