"""The constants of shade and veil on sheet version 2 are those that the script fits."""

from __future__ import annotations

import numpy as np
import pytest

from greasecheck.measure.sight import stand_light
from greasecheck.measure.water import spectral
from tests.benchmarks.water_constants import (
    SHADE_NAMES,
    VEIL_NAMES,
    fit_shade,
    fit_veil,
    kept_samples,
    shade_of,
)


def in_package(name: str) -> float:
    module = stand_light if hasattr(stand_light, name) else spectral
    return float(getattr(module, name))


def test_constants_are_those_that_three_lamps_give() -> None:
    together = [one for ones in kept_samples().values() for one in ones]
    assert len(together) == 56
    for names, values in (
        (SHADE_NAMES, fit_shade(together)),
        (VEIL_NAMES, fit_veil(together)),
    ):
        for name, value in zip(names, values, strict=True):
            assert in_package(name) == pytest.approx(value, abs=2e-3), name


def test_coarse_bars_have_the_share_of_shade_that_the_lamps_have() -> None:
    lamps = kept_samples()
    shade = fit_shade([one for ones in lamps.values() for one in ones])
    coarse = [shade_of(ones, shade)[1] for ones in lamps.values()]
    assert pytest.approx(np.mean(coarse), abs=0.02) == stand_light.COARSE
