"""The edge of a veil is told from murk, noise and what a jar does in clear water."""

from math import erf, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray

from greasecheck.measure.checks import limits
from greasecheck.measure.sight.veil_edge import VeilDown, veil_edge
from greasecheck.measure.sight.view import Expected, _veil_down
from greasecheck.reference import known_sheets
from tests.synthetic.bar_pairs import HERE, pair

FloatArray = NDArray[np.float64]
Y_MM = np.concatenate([135 + 3.0 * np.arange(7), 164 + 3.0 * np.arange(6)])
FINE_FROM = 7
DOWN = (Y_MM - 157) / 24  # from -1 to 1
FINE = np.arange(len(Y_MM)) >= FINE_FROM


def seen(light: FloatArray) -> VeilDown:
    return VeilDown(y_mm=tuple(Y_MM), light=tuple(light), fine_from=FINE_FROM)


def edge(at_mm: float, width_mm: float) -> FloatArray:
    """1 below, 0 above, over an edge of Gaussian softness."""
    return np.array([(1 + erf((y - at_mm) / (width_mm * sqrt(2)))) / 2 for y in Y_MM])


CLEAR = seen(0.02 + 0.01 * edge(140, 3.0))
MURK = 0.1 - 0.03 * DOWN + 0.02 * DOWN**2 + 0.02 * FINE


def test_murk_over_a_jar_that_has_an_edge_in_clear_water_has_none() -> None:
    assert veil_edge(CLEAR, CLEAR) == 0
    assert veil_edge(seen(np.array(CLEAR.light) + MURK), CLEAR) == 0


def test_noise_has_no_edge() -> None:
    rng = np.random.default_rng(1)
    found = [
        veil_edge(seen(np.array(CLEAR.light) + rng.normal(0, 0.003, len(Y_MM))), CLEAR)
        for _ in range(200)
    ]
    assert max(found) < limits.VEIL_EDGE.doubtful


@pytest.mark.parametrize("at_mm", [138.0, 141.2, 149.5, 168.1, 172.0])
@pytest.mark.parametrize("width_mm", [1.0, 2.0, 3.0])
@pytest.mark.parametrize("added", [0.04, 0.08])
def test_a_veil_of_the_lower_part_is_told(at_mm: float, width_mm: float, added: float) -> None:
    murk = 0.2 * MURK
    found = veil_edge(seen(np.array(CLEAR.light) + murk + added * edge(at_mm, width_mm)), CLEAR)
    assert limits.VEIL_EDGE.doubtful < found < added


def test_what_veils_the_upper_part_leaves_the_fine_bars_alone() -> None:
    assert veil_edge(seen(np.array(CLEAR.light) + 0.05 * (1 - edge(145, 2.0))), CLEAR) == 0


def test_the_veil_of_either_field_is_taken_as_it_is_seen_through_the_jar() -> None:
    """What was divided by the contrast that clear water leaves is multiplied by it again."""
    bars = pair(np.full(3, 0.6), np.full(3, 0.8))
    fine, coarse = (Expected(alignment=HERE, profile=np.full((7, 3), kept)) for kept in (0.5, 0.9))
    found = _veil_down(known_sheets()[-1].sight, bars, bars, (fine, coarse))
    seen = float(bars.veil.mean())
    assert seen > 0.1
    assert found.light[: found.fine_from] == pytest.approx([0.9 * seen] * found.fine_from)
    assert np.array(found.light[found.fine_from :]) == pytest.approx(0.5 * seen)
