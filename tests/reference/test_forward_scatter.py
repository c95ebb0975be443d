"""Loss of contrast in scattering water against independently computed figures."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import j0

from greasecheck.measure.water.scatter import bar_factor

# Monte Carlo light transport through 60 mm (own earlier runs, a wide slab 2 mm before the bars):
# apparent over true attenuation for bars of a width, lowest at g 0.95 with albedo 0.99, highest at
# g 0.8 with albedo 0.7. The small-angle formula is an approximation: 0.04 covers its difference.
GAP_IN_WATER_MM = 2 * 1.333
MONTE_CARLO = ((2.0, 0.85, 0.99), (5.0, 0.58, 0.95), (10.0, 0.36, 0.86), (20.0, 0.20, 0.71))


@pytest.mark.parametrize(("bar_mm", "lowest", "highest"), MONTE_CARLO)
def test_bar_factor_agrees_with_light_transport(
    bar_mm: float, lowest: float, highest: float
) -> None:
    forward = bar_factor(bar_mm, 60.0, np.array([0.95]), 0.99, 20.0, GAP_IN_WATER_MM)[0]
    sideward = bar_factor(bar_mm, 60.0, np.array([0.8]), 0.7, 20.0, GAP_IN_WATER_MM)[0]
    assert forward == pytest.approx(lowest, abs=0.04)
    assert sideward == pytest.approx(highest, abs=0.04)


def test_hankel_transform_of_small_angle_phase_function() -> None:
    # Wells (1973): the decay transform. Integrated here numerically from the Henyey-Greenstein
    # phase function (1941, eq. 2) itself: 2 pi times the integral of p(t) J0(q t) t dt.

    g, q = 0.95, 20.0
    alpha = (1 - g) / np.sqrt(g)

    def integrand(theta: float) -> float:
        phase = alpha / (2 * np.pi * (alpha**2 + theta**2) ** 1.5)
        return float(2 * np.pi * phase * j0(q * theta) * theta)

    value = quad(integrand, 0, 40, limit=2000)[0]
    assert value == pytest.approx(np.exp(-q * alpha), abs=2e-3)


def test_no_scatter_no_correction() -> None:
    assert bar_factor(2.0, 60.0, np.array([0.9]), 0.0, 20.0)[0] == pytest.approx(1.0, abs=1e-9)
