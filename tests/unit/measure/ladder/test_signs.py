"""Signs of what spoils a ladder's picture, each by made stripes and greys."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, Any, cast

import numpy as np
import pytest

from greasecheck.measure.ladder import limits
from greasecheck.measure.ladder.light import Greys
from greasecheck.measure.ladder.signs import picture, stripes

if TYPE_CHECKING:
    from greasecheck.measure.ladder.light import Picture
    from greasecheck.measure.ladder.profile import Sampled
    from greasecheck.model import FloatArray

BINS = 40
PATH_M = np.arange(1, BINS + 1) * 2.8e-3


def sampled(contrast: FloatArray, fine: FloatArray | None = None) -> Sampled:
    """Return stripes whose contrast runs so, that of 3 mm otherwise if it is given; white is 1."""
    wide, narrow = (
        SimpleNamespace(
            contrast=own, white=np.ones(BINS), std=np.full(BINS, 1e-4), tint=np.ones((BINS, 3))
        )
        for own in (contrast, contrast if fine is None else fine)
    )
    made = SimpleNamespace(
        fine=narrow,
        coarse=wide,
        brightness=lambda: SimpleNamespace(
            fine=narrow.contrast, coarse=wide.contrast, fine_std=narrow.std, path_m=PATH_M
        ),
        inside=np.ones(BINS, bool),
        sight=SimpleNamespace(path_mm=1000 * PATH_M, depth_mm=2.5 * np.arange(1, BINS + 1)),
    )
    return cast("Sampled", made)


@pytest.mark.parametrize(("haze_per_m", "forgiven"), [(0.0, 0.0), (10.0, 0.065), (26.0, 0.169)])
def test_a_shadow_s_edge_is_a_step_beyond_what_haze_bends(
    haze_per_m: float, forgiven: float
) -> None:
    edge = np.where(np.arange(BINS) < 20, 1.0, np.exp(-0.4))
    smooth = 0.9 * np.exp(-12.0 * PATH_M)
    assert stripes.contrast_step(sampled(smooth), haze_per_m) == 0
    found = stripes.contrast_step(sampled(smooth * edge), haze_per_m)
    assert found == pytest.approx(0.4 - forgiven, abs=0.005)


def test_murk_bends_contrast_no_farther_than_where_it_was_derived() -> None:
    edge = np.where(np.arange(BINS) < 20, 1.0, np.exp(-0.4))
    made = sampled(0.9 * edge)
    assert stripes.contrast_step(made, 60.0) == stripes.contrast_step(made, 26.0) > 0


@pytest.mark.parametrize("haze_per_m", [0.0, 4.0, float("nan")])
def test_faint_narrow_stripes_that_a_camera_smooths_away_are_told(haze_per_m: float) -> None:
    wide = 0.9 * np.exp(-12.0 * PATH_M)
    smoothed = np.where(wide < 0.4, np.exp(-0.12), 1.0)
    known = haze_per_m if haze_per_m > 0 else 0.0
    found = stripes.fields_step(sampled(wide, wide * smoothed), haze_per_m)
    assert found == pytest.approx(0.12 - stripes.PARTING_PER_HAZE * known, abs=1e-9)
    assert not limits.FIELDS.check(found).passed
    assert stripes.fields_step(sampled(wide), haze_per_m) == 0


def test_murk_parts_both_widths_no_farther_than_where_it_was_derived() -> None:
    wide = 0.9 * np.exp(-4.0 * PATH_M)
    made = sampled(wide, wide * np.where(wide < 0.7, np.exp(-0.3), 1.0))
    most = stripes.MOST_PARTING_PER_M
    forgiven = stripes.fields_step(made, 0.0) - stripes.fields_step(made, most)
    assert forgiven == pytest.approx(stripes.PARTING_PER_HAZE * most)
    assert stripes.fields_step(made, 3 * most) == stripes.fields_step(made, most) > 0


def test_faint_stripes_that_fade_faster_than_strong_ones_are_told_in_murk() -> None:
    murk = 0.9 * np.exp(-25.0 * PATH_M)
    smoothed = murk**3 / (murk**2 + 0.1**2)  # by a Wiener filter that takes 0.1 for noise
    found = stripes.faint_fading(sampled(murk, smoothed), 30.0)
    assert not limits.FADING.check(found).passed
    assert stripes.faint_fading(sampled(murk), 30.0) == pytest.approx(1.0, abs=0.01)
    assert stripes.faint_fading(sampled(murk, smoothed), 3.0) == 1.0
    assert stripes.faint_fading(sampled(murk, smoothed), float("nan")) == 1.0


def test_stripes_lost_at_once_do_not_tell_how_they_fade() -> None:
    assert stripes.faint_fading(sampled(0.9 * np.exp(-300.0 * PATH_M)), 200.0) == 1.0


def greys(**changed: Any) -> Greys:  # noqa: ANN401 - fields of Greys
    """Return five greys on either wing, each as bright as it should be."""
    reflectances = np.tile([0.045, 0.1, 0.2, 0.4, 0.85], 2)
    known = {
        "values": np.repeat(reflectances[:, np.newaxis], 3, axis=1),
        "spread": np.zeros(10),
        "reflectances": reflectances,
        "left": np.arange(10) < 5,
        "wide": np.tile([True, False, False, False, False], 2),
        "narrow_black": 0.045,
    }
    return Greys(**{**known, **changed})


def scaled(*factors: tuple[int, float]) -> FloatArray:
    values = greys().values.copy()
    for place, factor in factors:
        values[place] *= factor
    return values


def test_one_spoilt_grey_is_forgiven_and_two_are_not() -> None:
    shown = cast("Picture", SimpleNamespace(tone=lambda light: light))
    assert picture.grey_misfit(shown, greys()) == pytest.approx(0)
    one = greys(values=scaled((2, 1.5)))
    assert picture.grey_misfit(shown, one) == pytest.approx(0)
    two = greys(values=scaled((2, 1.5), (7, 1.3)))
    assert picture.grey_misfit(shown, two) == pytest.approx(np.log(1.3))


@pytest.mark.parametrize("side", [4, 9])
def test_a_wing_in_shadow_is_told_on_either_side(side: int) -> None:
    assert picture.wing_ratio(greys()) == pytest.approx(1)
    assert picture.wing_ratio(greys(values=scaled((side, 0.5)))) == pytest.approx(2)


def test_a_veil_and_lifted_shadows_are_told_by_the_blacks() -> None:
    assert picture.veil_share(greys()) == pytest.approx(0, abs=1e-3)
    assert picture.veil_share(greys(values=greys().values + 0.1)) == pytest.approx(0.1, abs=0.01)
    assert picture.black_shift(greys()) == pytest.approx(0)
    lifted = greys(values=scaled((0, 2.0), (5, 2.0)))
    assert picture.black_shift(lifted) == pytest.approx(np.log(2))


def test_a_decay_is_smooth_where_water_alone_makes_it() -> None:
    smooth = 0.9 * np.exp(-12.0 * PATH_M)
    waves = np.where(np.arange(BINS) % 2, 1.2, 1.0)
    assert stripes.decay_misfit(sampled(smooth)) == pytest.approx(0, abs=1e-9)
    assert stripes.decay_misfit(sampled(smooth * waves)) == pytest.approx(np.log(1.2) / 2, rel=0.05)
    assert stripes.first_contrast(sampled(smooth)) == pytest.approx(
        0.9 / (1 - picture.INK_SHARE), rel=0.01
    )
