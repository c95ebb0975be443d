"""A forecast as plain JSON values."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.cli.shared.plain import plain, withheld_json
from greasecheck.words.notes import notes_words

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.model.reasons import ReasonCode
    from greasecheck.predict.advice.decisions import TubAdvice
    from greasecheck.predict.forecast_records import ClearDates, HazeCurve, SkullForecast

QUANTILES = (0.025, 0.1, 0.25, 0.5, 0.75, 0.9, 0.975)
INTERVALS = (0.5, 0.8, 0.9, 0.95)


def forecast_json(
    tub: int, advice: TubAdvice, *, by: datetime | None, curve: bool
) -> dict[str, object]:
    """Return a tub's forecast under unit-suffixed keys; a date beyond ten years is null.

    So is one that is withheld: `withheld` names the reason, `no_date` says it.

    Parameters
    ----------
    tub : int
        Number of the tub.
    advice : TubAdvice
        Its forecast, and whether its dates stand.
    by : datetime.datetime or None
        A date to give the probability for.
    curve : bool
        Whether to add the haze curve.
    """
    found = advice.forecast
    answer: dict[str, object] = {
        "tub": tub,
        "made_at": found.made_at.isoformat(),
        **withheld_json(advice.withheld),
        "probability_clear_now": found.probability_clear_now,
        "probability_degreased_now": advice.probability_degreased_now,
        **_dates(advice.runs_clear),
        "runs_clear": _named_dates(advice.runs_clear),
        "degreased": _named_dates(advice.degreased),
        "grease_left_share": _quantiles(found.grease_left_share),
        "left_when_clear_share": _quantiles(found.left_when_clear_share),
        "gain_now_per_m": _quantiles(found.gain_now_per_m),
        "model": found.forms[0].form,
        "forms": plain(found.forms),
        "rule": plain(found.rule),
        "plan": plain(found.plan),
        "skulls": _skulls(advice),
        "unlogged_changes": plain(found.unlogged_changes),
        "diagnostics": plain(found.diagnostics),
        "notes": list(notes_words(found.notes)),
    }
    if by is not None:
        for name, dates in (("clear_by", advice.runs_clear), ("degreased_by", advice.degreased)):
            probability = dates.probability_by(by) if dates else None
            answer[name] = {"at": by.isoformat(), "probability": probability}
    if curve:
        answer["curve"] = _curve(found.curve)
    return answer


def _dates(dates: ClearDates | None) -> dict[str, object]:
    named = _named_dates(dates)
    return {"clear_at_quantiles": named["quantiles"], "clear_at_intervals": named["intervals"]}


def _named_dates(dates: ClearDates | None) -> dict[str, object]:
    return {
        "quantiles": [
            {"probability": one, "at": plain(dates and dates.quantile(one))} for one in QUANTILES
        ],
        "intervals": [_interval(dates, one) for one in INTERVALS],
    }


def _interval(dates: ClearDates | None, probability: float) -> object:
    if dates is None:
        return {"probability": probability, "earliest": None, "latest": None}
    return plain(dates.interval(probability))


def _quantiles(values: tuple[float, float, float]) -> dict[str, float]:
    low, median, high = values
    return {"p10": low, "p50": median, "p90": high}


def _skulls(advice: TubAdvice) -> list[dict[str, object]]:
    withheld = {one.name: one.withheld for one in advice.skulls}
    return [_skull(one, withheld.get(one.name)) for one in advice.forecast.skulls]


def _skull(skull: SkullForecast, withheld: ReasonCode | None) -> dict[str, object]:
    return {
        "name": skull.name,
        "species": skull.species,
        "slowest_probability": skull.slowest_probability,
        "told_apart": skull.identified,
        **withheld_json(withheld),
        **_dates(None if withheld else skull.dates),
        "degreased": _named_dates(None if withheld else skull.degreased),
        "grease_left_share": _quantiles(skull.grease_left_share),
    }


def _curve(curve: HazeCurve) -> dict[str, object]:
    return {
        "at": plain(curve.times),
        "haze_p10_per_m": curve.low_per_m.tolist(),
        "haze_p50_per_m": curve.median_per_m.tolist(),
        "haze_p90_per_m": curve.high_per_m.tolist(),
        "gain_p10_per_m": curve.gain_low_per_m.tolist(),
        "gain_p50_per_m": curve.gain_median_per_m.tolist(),
        "gain_p90_per_m": curve.gain_high_per_m.tolist(),
        "left_p10_share": curve.left_low_share.tolist(),
        "left_p50_share": curve.left_median_share.tolist(),
        "left_p90_share": curve.left_high_share.tolist(),
    }
