"""Arrhenius: k = A exp(-E / RT), S. Arrhenius, Z. phys. Chem. 4, 226 (1889)."""

from __future__ import annotations

import numpy as np
import pytest

from greasecheck.predict.model.arrhenius import GAS_CONSTANT_J_PER_MOL_K, rate_factor


def test_hand_worked_example() -> None:
    # 50 kJ/mol, 30 against 40 degrees C by hand: 50000 / 8.314463 = 6013.63 K;
    # 1/313.15 - 1/303.15 = 3.193358e-3 - 3.298697e-3 = -1.05339e-4; exp(-0.633471) = 0.53075
    assert float(rate_factor(30.0, 50.0)) == pytest.approx(0.53075, abs=0.000005)


def test_rule_of_thumb_that_ten_degrees_double_a_reaction_of_53_kj_per_mol() -> None:
    # P. Atkins, Physical Chemistry (from memory): about 53 kJ/mol near 25 degrees C
    ratio = float(rate_factor(35.0, 52.9) / rate_factor(25.0, 52.9))
    assert ratio == pytest.approx(2.0, abs=0.005)


def test_gas_constant_is_that_of_codata_2018() -> None:
    # exact: Boltzmann constant times Avogadro constant of the SI of 2019
    assert pytest.approx(1.380649e-23 * 6.02214076e23, abs=5e-10) == GAS_CONSTANT_J_PER_MOL_K


def test_the_reference_temperature_has_factor_one_whatever_the_energy() -> None:
    assert np.all(rate_factor(40.0, np.array([10.0, 45.0, 90.0])) == 1.0)
