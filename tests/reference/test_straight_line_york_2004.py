"""The line through Pearson's data with York's weights.

York, D. et al. (2004), American Journal of Physics 72(3), 367, doi:10.1119/1.1632486, table II and
section III: Pearson's (1901) points with the weights of York (1966).
"""

import numpy as np
import pytest

from greasecheck.measure.straight_line import fit_line

X = np.array([0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4])
Y = np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])
X_WEIGHT = np.array([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1.0])
Y_WEIGHT = np.array([1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500])


def test_slope_and_intercept_are_those_published() -> None:
    line = fit_line(X, Y, X_WEIGHT**-0.5, Y_WEIGHT**-0.5, through_zero=False)
    assert line.slope == pytest.approx(-0.48053, abs=0.000005)
    assert line.intercept == pytest.approx(5.47991, abs=0.000005)
    assert line.slope_std == pytest.approx(0.0580, abs=0.00005)


def test_through_zero_the_likelihood_is_greatest() -> None:
    x, x_std, y_std = X + 1, X_WEIGHT**-0.5, Y_WEIGHT**-0.5
    slope = fit_line(x, X[::-1], x_std, y_std, through_zero=True).slope

    def misfit(of: float) -> float:
        return float(((X[::-1] - of * x) ** 2 / (y_std**2 + of**2 * x_std**2)).sum())

    assert misfit(slope) < min(misfit(slope * 1.0001), misfit(slope * 0.9999))
