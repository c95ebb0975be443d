"""What a tub's haze, a sum over its skulls, says of each of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from greasecheck.predict.fit.posterior import SEED
from greasecheck.predict.forecast_records import ClearDates, SkullForecast
from greasecheck.predict.records import SECONDS_PER_DAY

if TYPE_CHECKING:
    from greasecheck.model import FloatArray
    from greasecheck.predict.fit.clear_prior import ClearTime
    from greasecheck.predict.fit.tub_fit import TubFit

SURE = 0.9
LEAST_PROBABILITY = 1e-12


def skull_forecasts(
    fit: TubFit, tub_days: FloatArray, log_clear_days: FloatArray
) -> tuple[SkullForecast, ...]:
    """Return a forecast for each skull.

    Parameters
    ----------
    fit : TubFit
        The fitted tub.
    tub_days : ndarray, shape (draws,)
        When the tub runs clear, in days from the origin.
    log_clear_days : ndarray, shape (draws,)
        Log of the standard days that the tub needs.

    Notes
    -----
    The tub waits for its slowest skull, so that the haze tells the slowest skull's time only.
    Which one that is has the probability f_j / F_j, normalised, of the skulls' prior densities
    f and distribution functions F at that time; the others' times follow their priors, cut off
    there.
    """
    slowest = _slowest(fit.skull_times, log_clear_days)
    generator = np.random.default_rng(SEED)
    winner = (generator.random(len(tub_days)) > np.cumsum(slowest, axis=0)[:-1]).sum(axis=0)
    return tuple(
        SkullForecast(
            name=skull.name,
            species=skull.species,
            dates=ClearDates(
                origin=fit.timeline.calendar.origin,
                days=np.sort(
                    np.where(
                        winner == index,
                        tub_days,
                        _quicker(fit, index, tub_days, log_clear_days, generator),
                    )
                ),
            ),
            slowest_probability=float(slowest[index].mean()),
            told_apart=not 1 - SURE < slowest[index].mean() < SURE,
        )
        for index, skull in enumerate(fit.skulls)
    )


def _slowest(times: tuple[ClearTime, ...], log_days: FloatArray) -> FloatArray:
    """Return each skull's probability of being the slowest, shape (skulls, draws)."""
    z = np.stack([(log_days - time.log_mean) / time.log_std for time in times])
    spread = np.array([time.log_std for time in times])[:, None]
    odds = -0.5 * z**2 - np.log(spread) - special.log_ndtr(z)
    share: FloatArray = special.softmax(odds, axis=0)
    return share


def _quicker(
    fit: TubFit,
    index: int,
    tub_days: FloatArray,
    log_clear_days: FloatArray,
    generator: np.random.Generator,
) -> FloatArray:
    """Draw the days of a skull that is not the slowest, from its prior cut off at the tub's."""
    time, origin = fit.skull_times[index], fit.timeline.calendar.origin
    limit = special.ndtr((log_clear_days - time.log_mean) / time.log_std)
    chance = np.maximum(limit * generator.random(len(limit)), LEAST_PROBABILITY)
    log_share = time.log_mean + time.log_std * special.ndtri(chance) - log_clear_days
    start = max((fit.skulls[index].since - origin).total_seconds() / SECONDS_PER_DAY, 0.0)
    days: FloatArray = start + tub_days * np.exp(np.minimum(log_share, 0.0))
    return np.minimum(days, tub_days)
