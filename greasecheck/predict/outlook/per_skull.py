"""Each skull's share of the forecast of a tub, whose haze is a sum over its skulls."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.forecast_records import ClearDates, SkullForecast

if TYPE_CHECKING:
    from greasecheck.model import FloatArray
    from greasecheck.predict.fit.dates import TubDates
    from greasecheck.predict.fit.tub_fit import TubFit

SURE = 0.9


def three_quantiles(values: FloatArray) -> tuple[float, float, float]:
    """Return the 10 %, 50 % and 90 % quantiles."""
    low, median, high = (float(one) for one in np.quantile(values, (0.1, 0.5, 0.9)))
    return low, median, high


def skull_forecasts(fit: TubFit, found: TubDates) -> tuple[SkullForecast, ...]:
    """Return a forecast for each skull that is in the tub.

    Parameters
    ----------
    fit : TubFit
        The fitted tub; each skull's grease is a state of its own in it.
    found : TubDates
        Its dates.
    """
    here = [skull for skull, is_in in zip(fit.skulls, fit.timeline.present, strict=True) if is_in]
    order = np.argmax(found.degreased_days, axis=0)
    slowest = [float(np.mean(order == row)) for row in range(len(here))]
    origin = fit.timeline.calendar.origin
    return tuple(
        SkullForecast(
            name=skull.name,
            species=skull.species,
            dates=ClearDates(origin=origin, days=np.sort(found.alone_clear_days[row])),
            degreased=ClearDates(origin=origin, days=np.sort(found.degreased_days[row])),
            grease_left_share=three_quantiles(found.left_share[row]),
            slowest_probability=slowest[row],
            identified=not 1 - SURE < slowest[row] < SURE,
        )
        for row, skull in enumerate(here)
    )
