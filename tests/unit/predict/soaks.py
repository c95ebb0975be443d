"""What a soak in fresh water gains, told by the leaching alone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.model.leaching import Modes, bath_haze, keep_bath_share

if TYPE_CHECKING:
    from greasecheck.model import FloatArray


def fresh_soak_gain(modes: Modes, weights: FloatArray, soak_days: FloatArray | float) -> FloatArray:
    """Return the haze that a soak of `soak_days` effective days in fresh water gains [1/m]."""
    fresh = keep_bath_share(modes, weights, 0.0)
    return bath_haze(modes, fresh * np.exp(modes.decay_per_day * soak_days))
