from __future__ import annotations

import numpy as np
import pytest

from greasecheck.model import Recipe
from greasecheck.predict.fit.done_prior import skull_time
from greasecheck.predict.fit.parameters import Parameters
from greasecheck.predict.model.kinetics import DONE_SHARE, Form


@pytest.mark.parametrize("species", [("deer",), ("deer", "fox"), ("fox", "bear", "deer")])
@pytest.mark.parametrize("form", [Form.TWO_POOLS, Form.BROAD])
def test_each_skull_of_a_tub_has_a_tenth_left_when_it_is_done(
    species: tuple[str, ...], form: Form
) -> None:
    """In water that is always fresh, after the lag that all skulls of a tub have in common."""
    times = tuple(map(skull_time, species))
    parameters = Parameters(form=form, done_times=times, recipes=(Recipe.SOAP,))
    z = np.random.default_rng(1).standard_normal((parameters.size, 50))
    draws = parameters.draws(z)
    rates = draws.network.rates_per_day.reshape(draws.grease_per_m.shape)
    spent = rates * draws.tempo.counted(draws.done_days)[:, None, :]
    left = (draws.grease_per_m * np.exp(-spent)).sum(axis=1) / draws.grease_per_m.sum(axis=1)
    np.testing.assert_allclose(left, DONE_SHARE, rtol=1e-5)
