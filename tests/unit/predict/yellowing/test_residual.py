"""The share of grease left in a skull, from the draws of its tub's fit."""

import numpy as np
import pytest

from greasecheck.predict.yellowing.residual import _measured


def test_the_error_is_about_the_median_that_is_told_not_about_the_mean() -> None:
    left = _measured(np.array([0.1, 0.1, 0.1, 0.9]))
    assert left.value == pytest.approx(0.1)
    assert left.std == pytest.approx(0.4)  # the root of 0.8 squared over 4
