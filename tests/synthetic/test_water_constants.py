"""The constants of shade and veil on sheet version 2 are those that the script fits."""

from __future__ import annotations

import numpy as np
import pytest

from greasecheck.measure.sight import stand_light
from greasecheck.measure.water import spectral
from tests.benchmarks.water_constants import (
    FITTED,
    VEIL_NAMES,
    fit_shade,
    fit_veil,
    kept_samples,
    lines,
    own_lights,
)


def test_constants_are_those_that_all_fitted_lamps_give() -> None:
    lamps = list(kept_samples().values())
    assert len(lamps) == len(FITTED)
    shade, (veil, log_veils) = fit_shade(lamps), fit_veil(lamps)
    assert shade == pytest.approx((spectral.FORWARD, spectral.SATURATION), abs=2e-3)
    for name, value in zip(VEIL_NAMES, veil, strict=True):
        assert getattr(spectral, name) == pytest.approx(value, abs=2e-3), name
    for name, line in lines(own_lights(lamps, shade, log_veils)).items():
        assert getattr(stand_light, name) == pytest.approx((line.start, line.slope), abs=2e-3), name
        assert getattr(stand_light, f"{name}_STD") == pytest.approx(line.std, abs=2e-3), name


def test_shade_goes_with_the_light_on_the_coarse_bars() -> None:
    """Low lamps gather light on the bars, lamps at 60 degrees leave them in shadow."""
    found = kept_samples()
    own = dict(
        zip(found, own_lights(list(found.values()), (0.7, 1.0), np.zeros(len(found))), strict=True)
    )
    assert own["panel 20"].lit > own["panel 50"].lit + 0.15 > own["panel 64"].lit + 0.45
    assert own["panel 20"].shade > own["panel 64"].shade + 0.5
    assert own["panel 20"].coarse > 0.8 > own["panel 50"].coarse > 0.3 > own["panel 64"].coarse
