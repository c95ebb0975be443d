"""Changes of distance, light and sheet against the clear-water reference."""

from dataclasses import replace

import numpy as np
import pytest

from greasecheck.measure.sight.phase import Stretch
from greasecheck.measure.sight.view import FieldPair, SightView
from greasecheck.measure.water.jar_depth import JarDepth, jar_depth
from greasecheck.measure.water.reference import unknown_jar
from greasecheck.measure.water.surroundings import Surroundings, changes
from tests.synthetic.bar_pairs import CLEAR

THEN = Surroundings(span_mm=400.0, light_ratio=0.1, paper=(0.0, None, 0.01), loo_delta_e00=0.5)


def test_nothing_changed() -> None:
    same = changes(THEN, THEN)
    assert (same.distance_ratio, same.light_ratio, same.paper) == (1.0, 0.0, 0.0)
    assert same.depth_std == same.loo_delta_e00 == 0


def test_changes_widen_the_error_beyond_what_water_does() -> None:
    now = replace(THEN, light_ratio=0.3, paper=(0.04, 0.5, 0.05), loo_delta_e00=2.0)
    found = changes(now, THEN)
    assert found.light_ratio == pytest.approx(0.2)
    assert found.paper == pytest.approx(0.04)
    assert found.depth_std == pytest.approx(np.hypot(0.08, 0.03))
    assert found.loo_delta_e00 == pytest.approx(1.5)


def test_windows_never_seen_twice_tell_nothing() -> None:
    assert changes(replace(THEN, paper=(None, 0.3, None)), THEN).paper == 0


def sight(stretch: float, std: float) -> SightView:
    fine: FieldPair = replace(CLEAR, stretch=Stretch(value=stretch, std=std))
    return SightView(fine=fine, coarse=CLEAR)


def depth_of(seen: SightView, distance_ratio: float = 1.0) -> JarDepth | None:
    clear = unknown_jar(60.0, 1)
    return jar_depth(seen, replace(clear, fine=replace(clear.fine, stretch=1.024)), distance_ratio)


def test_a_deeper_jar_stretches_more() -> None:
    found = depth_of(sight(1.036, 1e-4))
    assert found is not None
    assert found.ratio == pytest.approx(1.5)
    assert found.departure == pytest.approx(0.5, abs=0.02)


def test_a_camera_farther_away_is_no_shallower_jar() -> None:
    found = depth_of(sight(1.020, 1e-4), distance_ratio=1.2)
    assert found is not None
    assert found.ratio == pytest.approx(1.0)
    assert found.departure == 0


def test_bars_that_are_hardly_seen_tell_no_depth() -> None:
    assert depth_of(sight(1.036, 0.01)) is None
    lost = replace(CLEAR, wet=replace(CLEAR.wet, std=np.ones(3)))
    assert depth_of(SightView(fine=lost, coarse=CLEAR)) is None
