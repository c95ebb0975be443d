"""How much of its grease a skull still holds, by the fit of its tub."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.fit.dates import left_error
from greasecheck.predict.model.leaching import to_amounts
from greasecheck.predict.yellowing.records import Measured

if TYPE_CHECKING:
    from greasecheck.predict.fit.tub_fit import TubFit


def residual_grease(fit: TubFit) -> Measured:
    """Return the share of all grease that is still in the bones, with its standard error.

    Parameters
    ----------
    fit : TubFit
        The tub fitted as of the end of the soak.

    Notes
    -----
    The haze is a sum over the skulls of a tub: the share is that of them all together.
    """
    shares = []
    for branch in fit.branches:
        course = branch.course
        left = to_amounts(course.modes, course.weights(fit.timeline.now)[0])[:-1]
        share = left.sum(axis=0) / course.draws.grease_per_m.sum(axis=(0, 1))
        shares.append(share * left_error(fit, branch))
    share = np.clip(np.concatenate(shares), 0.0, 1.0)
    return Measured(value=float(share.mean()), std=float(share.std()))
