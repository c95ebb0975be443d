"""Fits each soak once, for recipes and risks alike."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.errors import ForecastError
from greasecheck.predict.forecasting import fit_tub
from greasecheck.predict.recipes_rate import tub_rate
from greasecheck.predict.yellowing_residual import residual_grease

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from greasecheck.garage.past_soaks import PastSoak
    from greasecheck.predict.recipes_records import TubRate
    from greasecheck.predict.records import TubHistory
    from greasecheck.predict.tub_fit import TubFit
    from greasecheck.predict.yellowing_records import Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class SoakFit:
    """What the fit of a soak as of its end tells.

    Attributes
    ----------
    soak : PastSoak
        The soak.
    rate : TubRate or None
        Its leach rate, for recipes to be compared by.
    why_no_rate : str
        Why there is none, in words.
    residual : Measured or None
        The share of grease that was left; None where nothing could be fitted.
    """

    soak: PastSoak
    rate: TubRate | None
    why_no_rate: str
    residual: Measured | None


def fit_soaks(
    soaks: Iterable[PastSoak], made: Mapping[TubHistory, TubFit] | None = None
) -> Iterator[SoakFit]:
    """Yield each soak with what its fit tells.

    Parameters
    ----------
    soaks : iterable of PastSoak
        From `greasecheck.garage.past_soaks.past_soaks`.
    made : mapping, optional
        Fits that are made already, by the history they are of; without finished tubs.
    """
    for soak in soaks:
        try:
            fit = _made(soak, made or {}) or fit_tub(soak.history, soak.until)
        except ForecastError as error:
            yield SoakFit(soak=soak, rate=None, why_no_rate=_words(soak, error), residual=None)
        else:
            yield _told(soak, fit)


def _made(soak: PastSoak, made: Mapping[TubHistory, TubFit]) -> TubFit | None:
    fit = made.get(soak.history)
    return fit if fit is not None and fit.now == soak.until else None


def _told(soak: PastSoak, fit: TubFit) -> SoakFit:
    rate, why = None, ""
    try:
        rate = tub_rate(fit, soak.name, temperature_known=soak.temperature_known)
    except ForecastError as error:
        why = _words(soak, error)
    return SoakFit(soak=soak, rate=rate, why_no_rate=why, residual=residual_grease(fit))


def _words(soak: PastSoak, error: ForecastError) -> str:
    return error.problem.removeprefix(f"{soak.name}: ")
