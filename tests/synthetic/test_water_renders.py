"""Known waters in path-traced photographs come out within stated limits."""

from functools import cache

import numpy as np
import pytest

from greasecheck.model import Bound, Verdict
from tests.benchmarks.first_sheet_constants import fitted, in_package
from tests.benchmarks.water_accuracy import LIGHTS, Case, line, read_cases

LOST_PER_M = 120.0  # murkier water hides the bars
# Own requirement: 10 % from 1 to 60 per metre, 0.15 per metre below.
RELATIVE_ERROR, LOW_ERROR_PER_M = 0.10, 0.15


@cache
def cases() -> dict[str, tuple[Case, ...]]:
    return {light: read_cases(light) for light in LIGHTS}


@pytest.mark.parametrize(
    "case",
    [
        pytest.param(case, id=f"{light}-{case.file}")
        for light, found in cases().items()
        for case in found
    ],
)
def test_attenuation_is_right_or_a_bound(case: Case) -> None:
    water = case.reading.water
    assert water is not None
    assert case.reading.verdict is not Verdict.REFUSED
    if case.true_per_m > LOST_PER_M:
        assert water.bound is Bound.ABOVE
        assert water.main_per_m < case.true_per_m
        return
    allowed = max(RELATIVE_ERROR * case.true_per_m, LOW_ERROR_PER_M)
    if water.bound is Bound.BELOW:
        assert case.true_per_m <= water.main_per_m
    else:
        assert water.bound is None
        assert abs(case.error_per_m) <= allowed, line(case)


def test_stated_errors_hold_in_light_that_nothing_was_fitted_to() -> None:
    unseen = [case for light in ("front", "window") for case in cases()[light]]
    assert len(unseen) == 8
    assert all(case.reading.verdict is Verdict.GOOD for case in unseen)
    assert max(abs(case.error_std) for case in unseen) < 2


def test_stated_errors_are_honest() -> None:
    errors = [
        abs(case.error_std)
        for case in cases()["usual"]
        if case.reading.water is not None and case.reading.water.bound is None
    ]
    assert len(errors) >= 20
    assert np.mean(np.array(errors) < 2) >= 0.9
    # The lamp here is the one that constants were fitted in: errors are smaller than stated. Stated
    # ones 1.8 times as large would leave 0.21.
    assert 0.3 < np.sqrt(np.mean(np.square(errors))) < 1.0


def test_constants_of_shade_and_veil_are_those_that_known_waters_give() -> None:
    for name, value in fitted().items():
        assert in_package(name) == pytest.approx(value, rel=0.03), name
