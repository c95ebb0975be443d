"""How much of its grease a skull still holds, by the fit of its tub."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.fit.dates import left_error, skull_rows
from greasecheck.predict.model.projection import value_of
from greasecheck.predict.yellowing.records import Measured

if TYPE_CHECKING:
    from greasecheck.model import FloatArray
    from greasecheck.predict.fit.tub_fit import Branch, TubFit


def residual_grease(fit: TubFit) -> dict[str, Measured]:
    """Return the share of its grease that is still in each skull, by its name.

    The median, as a forecast states it, with the root mean square of the draws about it.

    Parameters
    ----------
    fit : TubFit
        The tub fitted as of the end of the soak.
    """
    shares = np.hstack([_left_shares(fit, branch) for branch in fit.branches])
    return {one.name: _measured(row) for one, row in zip(fit.skulls, shares, strict=True)}


def _left_shares(fit: TubFit, branch: Branch) -> FloatArray:
    """Return the share left in each skull now, shape (skulls, draws)."""
    state = branch.course.weights(fit.timeline.now)[0]
    left = np.stack([value_of(row, state) for row in skull_rows(branch.course)])
    return np.clip(left * left_error(fit, branch), 0.0, 1.0)


def _measured(shares: FloatArray) -> Measured:
    middle = float(np.median(shares))
    return Measured(value=middle, std=float(np.sqrt(np.mean((shares - middle) ** 2))))
