"""Stated errors of the contrast kept, and what stands before the sight, worked by hand."""

from dataclasses import replace

import numpy as np
import pytest

from greasecheck.measure.sight.bars import Alignment
from greasecheck.measure.sight.view import SightView
from greasecheck.measure.water.light import UNKNOWN
from greasecheck.measure.water.reference import FieldReference, unknown_jar
from greasecheck.measure.water.transmittance import (
    JarState,
    Transmittance,
    displacement_mm,
    jar_state,
    slant_path,
    transmittance,
)
from tests.synthetic.bar_pairs import CLEAR, HERE, pair

REFERENCE = FieldReference(
    ratio=((0.9, 0.9, 0.9),) * 7,
    relative_std=(0.003, 0.003, 0.003),
    alignment=Alignment(shift_mm=-1.0, stretch=1.02),
    stretch=1.02,
    levels=None,
)
STAND = replace(unknown_jar(60.0, 1), fine=REFERENCE)


@pytest.mark.parametrize(("nominal", "slope"), [(True, 0.04), (False, 0.02)])
def test_the_errors_of_jar_slope_coding_and_light_add_in_squares(
    nominal: bool, slope: float
) -> None:
    light = replace(UNKNOWN, dry_level=0.003, dry_black=0.004)  # 0.005 together
    found = transmittance(pair(np.full(3, 0.5), np.full(3, 0.8)), REFERENCE, light, nominal=nominal)
    relative = 0.003**2 + 0.004**2 + 0.005**2 + (slope * 0.5) ** 2
    pixels = (1e-4**2 + (0.5 * 1e-4) ** 2) / 0.95**2
    std = np.sqrt(pixels + 0.001**2 + 0.5**2 * relative)
    assert found.std == pytest.approx(np.full(3, std), rel=1e-9)
    assert found.kept == pytest.approx(np.full(3, 0.5))
    # black bars behind the water: 0.8 x 0.98 - 0.5 x 0.95; less 0.03 / 0.95 of the contrast
    assert found.veil == pytest.approx((0.309 - 0.5 * 0.03) / 0.98 * 0.9)
    assert found.clear_ratio == pytest.approx(0.9)


def test_bars_are_seen_beyond_three_standard_errors() -> None:
    seen = Transmittance(
        bar_mm=2.0,
        clear_ratio=0.9,
        veil=0.0,
        kept=np.array([0.0303, 0.0297, 0.5]),
        std=np.array([0.01, 0.01, 0.02]),
    )
    assert seen.seen == (True, False, True)
    assert seen.attenuation_std_per_m(2, 60.0) == pytest.approx(0.02 / 0.5 / 0.06)
    assert seen.attenuation_per_m(2, 60.0) == pytest.approx(np.log(2) / 0.06)
    assert (seen.main, seen.main_std) == (0.0303, 0.01)


def test_a_slant_ray_is_longer_by_snells_law() -> None:
    sine = np.sin(np.radians(40.0)) / 1.333
    assert slant_path(60.0, 40.0) == pytest.approx(60.0 / np.cos(np.arcsin(sine)))


# The reference shows the outermost bars moved by 1 + 0.02 x 24 = 1.48 mm
@pytest.mark.parametrize(
    ("shift_mm", "ratio", "state"),
    [
        (-0.75, 1.0, JarState.FILLED),
        (-0.73, 1.09, JarState.ABSENT),  # 1.09 x 0.9 = 0.981 of the dry contrast
        (-0.73, 1.07, JarState.EMPTY),  # 0.963
        (-0.73, 0.57, JarState.EMPTY),  # 0.513, behind glass of which four faces alone leave 0.84
        (-0.73, 0.54, JarState.FILLED),  # 0.486: murk hides the bars, and noise moves them
    ],
)
def test_water_moves_bars_air_does_not(shift_mm: float, ratio: float, state: JarState) -> None:
    there = pair(np.full(3, ratio), np.ones(3))
    moved = replace(there.wet, alignment=Alignment(shift_mm=shift_mm, stretch=1.0))
    seen = replace(there, wet=moved)
    assert jar_state(SightView(fine=seen, coarse=CLEAR), STAND) is state
    assert displacement_mm(seen, HERE) == pytest.approx(-shift_mm)


def test_bars_that_murk_hides_stand_behind_water() -> None:
    lost = replace(CLEAR, wet=replace(CLEAR.wet, std=np.ones(3)))
    assert jar_state(SightView(fine=lost, coarse=CLEAR), STAND) is JarState.FILLED
    assert displacement_mm(lost, Alignment(shift_mm=5.0, stretch=1.0)) == 0
