"""How much of its grease a skull still holds, by the fit of its tub."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.fit.dates import left_error, off_by, skull_rows
from greasecheck.predict.model.projection import value_of
from greasecheck.predict.outlook.doubts import find_stops
from greasecheck.predict.records import ClearRule
from greasecheck.predict.yellowing.records import Measured

if TYPE_CHECKING:
    from greasecheck.model import FloatArray
    from greasecheck.predict.fit.tub_fit import FormDraws, TubFit


def residual_grease(fit: TubFit, *, proved: bool = False) -> dict[str, Measured]:
    """Return the share of its grease that is still in each skull, by its name.

    The median, as a forecast states it, with the root mean square of the draws about it.

    Parameters
    ----------
    fit : TubFit
        The tub fitted as of the end of the soak.
    proved : bool
        Whether a proof holds, so that an end at once is no stop; see `find_stops`.
    """
    shares = np.hstack([_left_shares(fit, drawn) for drawn in fit.form_draws])
    if not proved:
        shares = find_stops(fit, range(len(fit.skulls)), shares, ClearRule()).left_share
    return {one.name: _measured(row) for one, row in zip(fit.skulls, shares, strict=True)}


def _left_shares(fit: TubFit, drawn: FormDraws) -> FloatArray:
    """Return the share left in each skull now, shape (skulls, draws)."""
    state = drawn.course.weights(fit.timeline.now)[0]
    error = left_error(fit, drawn)
    return np.stack([off_by(value_of(row, state), error) for row in skull_rows(drawn.course)])


def _measured(shares: FloatArray) -> Measured:
    middle = float(np.median(shares))
    return Measured(value=middle, std=float(np.sqrt(np.mean((shares - middle) ** 2))))
