"""How far a fit can be trusted, in numbers and in plain words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.fit.likelihood import reading_std
from greasecheck.predict.forecast_records import Diagnostics
from greasecheck.predict.model.course import run_course
from greasecheck.predict.odds import odds_words

if TYPE_CHECKING:
    from greasecheck.model import FloatArray
    from greasecheck.predict.fit.tub_fit import TubFit
    from greasecheck.predict.forecast_records import Forecast, UnloggedChange

FEWEST_DRAWS = 100.0
LARGEST_PARETO_K = 1.0  # above it the weights have no mean (Vehtari et al. 2024, section 2.3)
FEWEST_FOR_PATTERN = 8
MOST_SCATTER_SHARE = 0.2
HARMLESS_SCATTER_SHARE = 0.04  # a pattern in residuals this small moves no date
MOST_CORRELATION = 0.4
COUNTED_WEIGHT = 0.05
MAD_TO_STD = 1.4826  # for a normal law; Rousseeuw & Croux 1993, J. Am. Stat. Assoc. 88, 1273
LITTLE_SAID = 0.15
LONG_SILENCE_DAYS = 14.0
OFTEN_NEVER = 0.05
CHANGES_MINUTES_APART_DAYS = 1 / 24


def diagnose(fit: TubFit, log_days: FloatArray) -> Diagnostics:
    """Return the diagnostics of a fit.

    Parameters
    ----------
    fit : TubFit
        The fit.
    log_days : ndarray, shape (draws,)
        Log of the standard days until clear, posterior draws.
    """
    counted = [part for part in fit.fits if part.weight > COUNTED_WEIGHT]
    pareto_k = max(part.draws.pareto_k for part in counted)
    draws = sum(part.weight * part.draws.effective_draws for part in counted)
    z = _residuals(fit)
    scatter = float(np.median(fit.branches[0].course.draws.scatter_share))
    correlation = _neighbour_correlation(z)
    limit = max(MOST_CORRELATION, 3 / np.sqrt(max(len(z), 1)))
    return Diagnostics(
        converged=all(part.peak.converged for part in counted)
        and draws >= FEWEST_DRAWS
        and pareto_k < LARGEST_PARETO_K,
        describes_data=bool(
            scatter < MOST_SCATTER_SHARE
            and (correlation < limit or scatter < HARMLESS_SCATTER_SHARE)
        ),
        pareto_k=pareto_k,
        effective_draws=draws,
        scatter_share=scatter,
        residual_size=float(MAD_TO_STD * np.median(np.abs(z))) if len(z) else 0.0,
        residual_correlation=correlation,
        readings_used=len(fit.timeline.observations.haze_per_m),
        readings_left_out=fit.timeline.left_out,
        data_share=float(np.clip(1 - np.std(log_days) / fit.clear_time.log_std, 0.0, 1.0)),
    )


def _residuals(fit: TubFit) -> FloatArray:
    """Return standardised residuals of the weightiest form's peak; bounds left out."""
    peak, seen = fit.fits[0].peak, fit.timeline.observations
    draws = peak.parameters.draws(peak.x[:, None])
    haze = run_course(fit.timeline, draws).haze_per_m(seen.moments)
    z = (seen.haze_per_m[:, None] - haze) / reading_std(fit.timeline, draws, haze)
    plain: FloatArray = z[~(seen.above | seen.below), 0]
    return plain


def _neighbour_correlation(z: FloatArray) -> float:
    """Return the rank-free correlation of signs of neighbours, robust to outliers, -1 to 1."""
    if len(z) < FEWEST_FOR_PATTERN:
        return 0.0
    return float(np.mean(np.sign(z[1:]) * np.sign(z[:-1])))


def notes_on(forecast: Forecast, fit: TubFit) -> tuple[str, ...]:
    """Return what to know before believing the dates."""
    trust = forecast.diagnostics
    never = 1 - float(np.mean(np.isfinite(forecast.dates.days)))
    apart = [skull.name for skull in forecast.skulls if not skull.told_apart]
    said = [
        (trust.readings_used == 0, "No readings yet: the dates are the species table's alone."),
        (
            trust.readings_used > 0 and trust.data_share < LITTLE_SAID,
            "The readings say little so far: the dates are mostly the species table's.",
        ),
        (not trust.converged, "The fit did not settle: do not rely on these dates."),
        (
            not trust.describes_data,
            "The model does not describe these readings (scatter "
            f"{trust.scatter_share:.0%}, neighbours alike {trust.residual_correlation:.0%}): "
            "look for changes, temperatures or skulls that were not logged.",
        ),
        *((True, _unlogged_words(change)) for change in fit.unlogged),
        (
            fit.timeline.calendar.shortest_interval_days < CHANGES_MINUTES_APART_DAYS,
            "Two water changes are logged less than an hour apart: take one back if it was logged"
            " twice.",
        ),
        (
            _silent_days(fit) > LONG_SILENCE_DAYS,
            f"The last reading is {_silent_days(fit):.0f} days old.",
        ),
        (
            never > OFTEN_NEVER,
            f"With {odds_words(never)} probability it never clears under this plan.",
        ),
        (
            bool(apart),
            "The haze is a sum over skulls and cannot tell these apart: " + ", ".join(apart) + ".",
        ),
    ]
    return tuple(text for holds, text in said if holds)


def _unlogged_words(change: UnloggedChange) -> str:
    first, last = (f"{when.astimezone():%Y-%m-%d %H:%M}" for when in (change.after, change.before))
    middle = (change.after + (change.before - change.after) / 2).astimezone()
    return (
        f"The water was changed between {first} and {last}, it seems, and nobody logged it:"
        f" confirm or deny it, --at {middle:%Y-%m-%dT%H:%M}."
    )


def _silent_days(fit: TubFit) -> float:
    days = fit.timeline.observations.moments.days
    return fit.timeline.calendar.now_days - float(days[-1]) if len(days) else 0.0
