from __future__ import annotations

import numpy as np
import pytest

from greasecheck.model import Recipe
from greasecheck.predict.fit.done_prior import skull_time
from greasecheck.predict.fit.parameters import Parameters
from greasecheck.predict.model.kinetics import Form, Spectrum, broad_spectrum, slowest_rate

DAYS = np.array([60.0, 120.0, 300.0])
TWO_POOLS = Spectrum(ratios=np.array([[1.0], [8.0]]), weights=np.array([[0.3], [0.7]]))
PLATE = broad_spectrum(np.full(3, 0.5), np.full(3, 0.05))
MIXED = broad_spectrum(np.full(3, 0.5), np.full(3, 1.0))


@pytest.mark.parametrize("spectrum", [TWO_POOLS, PLATE, MIXED])
def test_a_tenth_is_left_when_it_was_asked_for(spectrum: Spectrum) -> None:
    rates = spectrum.ratios * slowest_rate(spectrum, DAYS)
    left = (spectrum.weights * np.exp(-rates * DAYS)).sum(axis=0)
    assert left == pytest.approx([0.1] * 3, rel=1e-9)


def test_a_power_of_one_half_gives_off_grease_by_the_root_of_time() -> None:
    # Crank 1975, eq. 4.20: at short times the share gone grows with time^(1/2)
    times = np.array([0.01, 0.04, 0.16])
    gone = 1 - (PLATE.weights[:, :1] * np.exp(-PLATE.ratios[:, :1] * times)).sum(axis=0)
    assert np.log(gone[1:] / gone[:-1]) / np.log(4.0) == pytest.approx([0.5, 0.5], abs=0.1)


def test_mixed_thickness_leaves_a_longer_tail() -> None:
    late = [
        float((one.weights * np.exp(-one.ratios * slowest_rate(one, DAYS) * 2.5 * DAYS)).sum(0)[0])
        for one in (PLATE, MIXED)
    ]
    assert late[1] > 1.5 * late[0]


@pytest.mark.parametrize("form", list(Form))
@pytest.mark.parametrize("skulls", [1, 3])
def test_every_form_turns_coordinates_into_sound_networks(form: Form, skulls: int) -> None:
    parameters = Parameters(
        form=form, done_times=(skull_time("deer"),) * skulls, recipes=(Recipe.SOAP,)
    )
    z = 3 * np.random.default_rng(1).standard_normal((parameters.size, 50))
    draws = parameters.draws(z)
    assert np.all(draws.network.rates_per_day > 0)
    assert np.isfinite(draws.network.rates_per_day).all()
    assert draws.network.shares.sum(axis=0) == pytest.approx(np.ones(50), abs=1e-12)
    assert np.all((draws.carry_over > 0) & (draws.carry_over < 1))
    assert draws.grease_per_m.shape[0] == skulls
    assert len(parameters.starts()) == (2 if form is Form.TWO_POOLS else 1)
