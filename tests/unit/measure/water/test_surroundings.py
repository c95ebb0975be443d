"""Changes of distance, light and sheet against the clear-water reference."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import numpy as np
import pytest

from greasecheck.measure.sight.phase import Stretch
from greasecheck.measure.sight.view import FieldPair, SightView
from greasecheck.measure.water import surroundings
from greasecheck.measure.water.jar_depth import JarDepth, jar_depth
from greasecheck.measure.water.reference import unknown_jar
from greasecheck.measure.water.surroundings import Surroundings, changes, look_around
from greasecheck.reference import known_sheets
from tests.synthetic.bar_pairs import CLEAR
from tests.unit.measure.jar_photos import reference

if TYPE_CHECKING:
    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.model import FloatArray, Photo, Placement

THEN = Surroundings(span_mm=400.0, light_ratio=0.1, paper=(0.0, None, 0.01), loo_delta_e00=0.5)


def test_nothing_changed() -> None:
    same = changes(THEN, THEN)
    assert (same.distance_ratio, same.light_ratio, same.paper) == (1.0, 0.0, 0.0)
    assert same.depth_std == same.loo_delta_e00 == 0


def test_what_a_photo_shows_around_its_bars(monkeypatch: pytest.MonkeyPatch) -> None:
    """White paper as e times as red and 1 / e^2 as blue as green; the jar's bars lit twice as much.

    The longest side spans 1000 px of 2 px a mm, in a picture held upright too.
    """
    monkeypatch.setattr(surroundings, "look_beside_jar", lambda *_: None)
    sheet = next(one for one in known_sheets() if one.bars is not None)
    dry_x_mm = sheet.sight.dry_fine.centre_mm[0], sheet.sight.dry_coarse.centre_mm[0]

    def light(places_mm: FloatArray) -> FloatArray:
        on_dry = np.isin(places_mm[:, 0], dry_x_mm)
        return np.where(on_dry, 0.5, 1.0)[:, np.newaxis] * np.ones(3)

    colour = SimpleNamespace(
        illuminance=light,
        white=0.6 * np.exp([1.0, 0.0, -2.0]),
        misfit=SimpleNamespace(windows=(0.1, None)),
        fit=SimpleNamespace(loo_delta_e00=0.7),
        saturation=0.9,
    )
    placement = SimpleNamespace(geometry=sheet, pixels_per_mm=2.0)
    for shape in ((600, 1000, 3), (1000, 600, 3)):
        photo = SimpleNamespace(pixels=np.zeros(shape))
        found = look_around(
            cast("Photo", photo),
            cast("Placement", placement),
            cast("ColourModel", colour),
            SightView(fine=CLEAR, coarse=CLEAR),
        )
        assert found.span_mm == pytest.approx(500.0)
        assert found.balance == pytest.approx((1.0, -2.0))
        assert found.light_ratio == pytest.approx(np.log(2))
        assert (found.paper, found.loo_delta_e00, found.saturation) == ((0.1, None), 0.7, 0.9)


def test_the_larger_change_of_red_or_blue_is_that_of_the_balance() -> None:
    then = replace(THEN, balance=(0.1, -0.2))
    assert changes(replace(THEN, balance=(0.2, -0.5)), then).balance == pytest.approx(0.3)
    assert changes(replace(THEN, balance=(0.5, -0.2)), then).balance == pytest.approx(0.4)
    assert changes(THEN, then).balance == 0.0


def test_changes_widen_the_error_beyond_what_water_does() -> None:
    now = replace(THEN, light_ratio=0.3, paper=(0.04, 0.5, 0.05), loo_delta_e00=2.0)
    found = changes(now, THEN)
    assert found.light_ratio == pytest.approx(0.2)
    assert found.paper == pytest.approx(0.04)
    assert found.depth_std == pytest.approx(np.hypot(0.08, 0.03))
    assert found.loo_delta_e00 == pytest.approx(1.5)


def test_more_vivid_colours_are_a_change_by_their_ratio() -> None:
    then = replace(THEN, saturation=0.9)
    assert changes(replace(THEN, saturation=1.2), then).saturation == pytest.approx(np.log(4 / 3))
    assert changes(THEN, then).saturation == changes(then, THEN).saturation == 0.0


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


@pytest.mark.parametrize(("std", "is_known"), [(0.0035, True), (0.0037, False)])
def test_a_depth_known_within_15_percent_is_worth_a_word(std: float, is_known: bool) -> None:
    assert (depth_of(sight(1.036, std)) is not None) is is_known  # 0.0036 / 0.024 = 0.15


def test_two_standard_errors_of_a_depth_are_noise() -> None:
    assert JarDepth(ratio=1.5, std=0.1).departure == pytest.approx(0.3)
    assert JarDepth(ratio=0.5, std=0.1).departure == pytest.approx(0.3)
    assert JarDepth(ratio=1.19, std=0.1).departure == 0


def test_a_camera_farther_away_is_less_sure() -> None:
    near, far = (depth_of(sight(1.036, 0.001), distance_ratio=d) for d in (1.0, 2.0))
    assert near is not None
    assert far is not None
    assert near.std == pytest.approx(0.001 / 0.024)
    assert (far.ratio, far.std) == pytest.approx((2 * near.ratio, 2 * near.std))


def test_unmoved_bars_of_the_reference_give_no_depth() -> None:
    clear = unknown_jar(60.0, 1)
    for stretch in (1.0, 0.999):
        unmoved = replace(clear, fine=replace(clear.fine, stretch=stretch))
        assert jar_depth(sight(1.036, 1e-4), unmoved, 1.0) is None


def test_the_largest_change_of_white_balance_counts() -> None:
    then, now = replace(THEN, balance=(0.1, -0.2)), replace(THEN, balance=(0.15, -0.5))
    assert changes(now, then).balance == pytest.approx(0.3)
    assert changes(now, THEN).balance == 0


def test_a_photo_in_white_light_has_no_cast_however_bright_its_paper(tmp_path: Path) -> None:
    found = reference(tmp_path).surroundings
    assert found is not None
    assert found.balance == pytest.approx((0, 0), abs=0.01)
