"""How far a fit can be trusted, in numbers and notes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.robust import MAD_TO_STD
from greasecheck.model import Recipe
from greasecheck.model.notes import Note, NoteCode
from greasecheck.predict.fit.likelihood import white_residuals
from greasecheck.predict.fit.tub_fit import thinned_draws
from greasecheck.predict.forecast_records import Diagnostics
from greasecheck.predict.tables import fat_melting

if TYPE_CHECKING:
    from collections.abc import Iterator

    from greasecheck.model import FloatArray
    from greasecheck.predict.fit.tub_fit import TubFit
    from greasecheck.predict.forecast_records import Forecast

# Without a source, where none is named: from where on a fit is doubted or a note is given.
FEWEST_DRAWS = 100.0  # that all draws are worth
LARGEST_PARETO_K = 1.0  # above it the weights have no mean (Vehtari et al. 2024, section 2.3)
FEWEST_FOR_PATTERN = 8  # residuals that neighbours are compared in
MOST_SCATTER_SHARE = 0.2  # of a reading's haze, beyond its stated error
MOST_DRIFT_SHARE = 0.35  # of the rise: what no form describes
HARMLESS_SCATTER_SHARE = 0.04  # a pattern in residuals this small moves no date
MOST_CORRELATION = 0.4  # of the signs of neighbouring residuals; at least 3 standard errors
MUCH_BLOOM_SHARE = 0.25  # of the haze in old water
LEAST_HAZE_PER_M = 0.1  # keeps a ratio finite
COUNTED_WEIGHT = 0.05  # of a form whose draws are looked at
BLOOM_DRAWS = 200  # a median is off by 0.09 of a standard deviation of them (normal law)
LITTLE_DATA_SHARE = 0.15  # by which readings narrowed the date
LONG_SILENCE_DAYS = 14.0  # since the last reading
OFTEN_NEVER = 0.05  # probability that it is never degreased under the plan
CHANGES_MINUTES_APART_DAYS = 1 / 24


def diagnose(fit: TubFit, *, stop_share: float) -> Diagnostics:
    """Return the diagnostics of a fit, and of the dates that it gives."""
    counted = [part for part in fit.fits if part.weight > COUNTED_WEIGHT]
    pareto_k = max(part.draws.pareto_k for part in counted)
    draws = sum(part.weight * part.draws.effective_draws for part in counted)
    noise = fit.whitening.noise
    z = _residuals(fit)
    common = np.linalg.norm([noise.scatter, noise.pace, noise.drift])
    correlation = _neighbour_correlation(z)
    limit = max(MOST_CORRELATION, 3 / np.sqrt(max(len(z), 1)))
    return Diagnostics(
        converged=all(part.peak.converged for part in counted)
        and draws >= FEWEST_DRAWS
        and pareto_k < LARGEST_PARETO_K,
        describes_data=bool(
            noise.scatter < MOST_SCATTER_SHARE
            and noise.drift < MOST_DRIFT_SHARE
            and (correlation < limit or common < HARMLESS_SCATTER_SHARE)
        ),
        pareto_k=pareto_k,
        effective_draws=draws,
        scatter_share=float(noise.scatter),
        drift_share=float(noise.drift),
        bloom_share=_bloom_share(fit),
        residual_size=float(MAD_TO_STD * np.median(np.abs(z))) if len(z) else 0.0,
        residual_correlation=correlation,
        readings_used=len(fit.timeline.observations.haze_per_m),
        readings_left_out=fit.timeline.left_out,
        data_share=_data_share(fit),
        stop_share=stop_share,
    )


def _residuals(fit: TubFit) -> FloatArray:
    """Return the white residuals of the weightiest form's peak; bounds left out."""
    white = white_residuals(fit.timeline, fit.fits[0].peak.draws, fit.whitening)[:, 0]
    return white[: int(fit.whitening.plain.sum())]


def _bloom_share(fit: TubFit) -> float:
    """Return the median share of the haze that grew in the oldest third of the readings' baths."""
    moments = fit.timeline.observations.moments
    if not len(moments.days):
        return 0.0
    courses = [drawn.course for drawn in thinned_draws(fit, BLOOM_DRAWS)]
    old = moments.picked(moments.bath_age_days >= np.quantile(moments.bath_age_days, 2 / 3))
    grown, haze = (
        np.median(np.hstack(draws), axis=1)
        for draws in (
            [course.bloom_per_m(old) for course in courses],
            [course.haze_per_m(old) for course in courses],
        )
    )
    return float(np.median(grown / np.maximum(haze, LEAST_HAZE_PER_M)))


def _data_share(fit: TubFit) -> float:
    """Return how much the readings narrowed the time of the skull that they narrowed most."""
    log_days = np.hstack([drawn.log_done_days for drawn in fit.form_draws])
    before = np.array([time.log_std for time in fit.done_times])
    return float(np.clip(1 - np.min(log_days.std(axis=1) / before), 0.0, 1.0))


def _neighbour_correlation(z: FloatArray) -> float:
    """Return the rank-free correlation of signs of neighbours, robust to outliers, -1 to 1."""
    if len(z) < FEWEST_FOR_PATTERN:
        return 0.0
    return float(np.mean(np.sign(z[1:]) * np.sign(z[:-1])))


def notes_on(forecast: Forecast, fit: TubFit, *, asks_proof: bool = False) -> tuple[Note, ...]:
    """Return what to know before believing the dates.

    Parameters
    ----------
    forecast : Forecast
        The dates.
    fit : TubFit
        What they come from.
    asks_proof : bool
        Whether a stop is not taken for an end anyway, as by the advice.
    """
    trust, silent_days = forecast.diagnostics, _silent_days(fit)
    never = 1 - float(np.mean(np.isfinite(forecast.degreased.days)))
    alike = tuple(skull.name for skull in forecast.skulls if not skull.identified)
    little = trust.readings_used > 0 and trust.data_share < LITTLE_DATA_SHARE
    close = fit.timeline.calendar.shortest_interval_days < CHANGES_MINUTES_APART_DAYS
    misfit = (trust.scatter_share, trust.drift_share)
    notes = (
        (trust.readings_used == 0, Note(code=NoteCode.NO_READINGS)),
        (little, Note(code=NoteCode.LITTLE_DATA)),
        (not trust.converged, Note(code=NoteCode.NOT_SETTLED)),
        (not trust.describes_data, Note(code=NoteCode.UNDESCRIBED, values=misfit)),
        (
            trust.bloom_share > MUCH_BLOOM_SHARE,
            Note(code=NoteCode.BLOOM, values=(trust.bloom_share,)),
        ),
        (Recipe.ACETONE in fit.timeline.calendar.recipes, Note(code=NoteCode.ACETONE)),
        *((True, note) for note in _solid_fats(fit)),
        *(
            (True, Note(code=NoteCode.UNLOGGED_CHANGE, times=(change.after, change.before)))
            for change in fit.unlogged
        ),
        (close, Note(code=NoteCode.CHANGES_CLOSE)),
        (silent_days > LONG_SILENCE_DAYS, Note(code=NoteCode.SILENT, values=(silent_days,))),
        (
            trust.may_have_stopped and not asks_proof,
            Note(code=NoteCode.STOPPED, values=(trust.stop_share,)),
        ),
        (never > OFTEN_NEVER, Note(code=NoteCode.NEVER, values=(never,))),
        (bool(alike), Note(code=NoteCode.ALIKE, names=alike)),
    )
    return tuple(note for holds, note in notes if holds)


def _solid_fats(fit: TubFit) -> Iterator[Note]:
    """Yield a note for each species whose fat is not molten in the bath."""
    present = fit.timeline.calendar.recipes[fit.timeline.now.recipe[0]]
    if present is Recipe.ACETONE:
        return
    for species in sorted({fit.skulls[n].species for n in np.flatnonzero(fit.timeline.present)}):
        fat = fat_melting(species)
        if fat is not None and fit.bath_c is not None and fit.bath_c < fat.from_c:
            celsius = (fat.from_c, fat.to_c, fit.bath_c)
            yield Note(code=NoteCode.SOLID_FAT, names=(species,), values=celsius)


def _silent_days(fit: TubFit) -> float:
    days = fit.timeline.observations.moments.days
    return fit.timeline.calendar.now_days - float(days[-1]) if len(days) else 0.0
