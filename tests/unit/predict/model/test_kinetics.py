from __future__ import annotations

import numpy as np
import pytest

from greasecheck.model import Recipe
from greasecheck.predict.fit.clear_prior import skull_time
from greasecheck.predict.fit.parameters import Parameters
from greasecheck.predict.model.kinetics import (
    Form,
    Spectrum,
    grease_and_rates,
    sheet_spectrum,
    sphere_spectrum,
)

DAYS, GAIN = np.array([60.0, 120.0, 300.0]), np.array([60.0, 90.0, 200.0])
TWO_POOLS = Spectrum(
    ratios=np.array([[1.0], [8.0]]), weights=np.array([[0.3], [0.7]]), of_gain=True
)


@pytest.mark.parametrize("spectrum", [TWO_POOLS, sheet_spectrum(), sphere_spectrum()])
def test_rates_give_the_first_gain_and_the_clear_time_they_were_asked_for(
    spectrum: Spectrum,
) -> None:
    grease, rates = grease_and_rates(spectrum, DAYS, GAIN)
    soaked = -np.expm1(-3.0 * rates)
    assert (grease * soaked).sum(axis=0) == pytest.approx(GAIN, rel=1e-9)
    left = grease * np.exp(-rates * DAYS)
    assert (left * soaked).sum(axis=0) == pytest.approx([3.0] * 3, rel=1e-9)


@pytest.mark.parametrize("spectrum", [sheet_spectrum(), sphere_spectrum()])
def test_diffusion_series_hold_all_the_grease(spectrum: Spectrum) -> None:
    assert spectrum.weights.sum() == pytest.approx(1.0, abs=1e-12)
    assert spectrum.ratios[0, 0] == 1.0
    assert np.all(np.diff(spectrum.ratios[:, 0]) > 0)


@pytest.mark.parametrize("form", list(Form))
def test_every_form_turns_coordinates_into_sound_networks(form: Form) -> None:
    parameters = Parameters(form=form, clear_time=skull_time("deer"), recipes=(Recipe.SOAP,))
    z = np.random.default_rng(1).standard_normal((parameters.size, 50))
    draws = parameters.draws(z)
    assert np.all(draws.network.rates_per_day > 0)
    assert draws.network.shares.sum(axis=0) == pytest.approx(np.ones(50), abs=1e-12)
    assert np.all((draws.carry_over > 0) & (draws.carry_over < 1))
    assert len(parameters.starts()) == (2 if form in {Form.TWO_POOLS, Form.THREE_POOLS} else 1)


def test_diffusion_that_would_have_to_be_endlessly_slow_is_out_of_bounds() -> None:
    parameters = Parameters(form=Form.SHEET, clear_time=skull_time("deer"), recipes=(Recipe.SOAP,))
    z = np.zeros((parameters.size, 2))
    z[0] = [-1.0, 3.0]  # soon clear, and hardly ever
    z[1] = [2.0, -2.0]  # from much grease, and from next to none
    outside = parameters.outside(parameters.draws(z))
    assert outside[0] == 0.0
    assert outside[1] > 3.0
