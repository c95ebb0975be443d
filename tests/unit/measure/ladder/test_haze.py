from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from greasecheck.measure.ladder import haze
from greasecheck.measure.ladder.haze import (
    DEPTH_STD_M,
    DRAWS,
    Colours,
    HazeEstimate,
    estimate_haze,
    with_brightness,
)
from greasecheck.measure.ladder.limits import ASIDE
from greasecheck.measure.ladder.slopes import Profile, fit_decay, fit_slopes
from greasecheck.model import Bound
from greasecheck.reference.ladder.colour import colour_law
from greasecheck.reference.ladder.slopes import slope_law
from tests.synthetic.ladder_light import scenes
from tests.synthetic.ladder_light.make_light import all_photos

LIGHT = Path(scenes.__file__).with_name("judge.npz")
NOISE = 0.002  # of dry white, in a bin of 2.5 mm


def plain(haze_per_m: float, share: float = 0.8) -> Profile:
    """Return a made profile whose contrast decays by the haze and whose white stays."""
    depth = np.arange(1.25, 160, 2.5)
    path = depth / 0.88 / 1000
    contrast = 0.5 * np.exp(-haze_per_m * path)
    std = np.full_like(depth, 1e-3)
    return Profile(
        depth_mm=depth,
        mirrors_black=np.ones(len(depth), dtype=np.bool_),
        path_m=path,
        fine=contrast,
        coarse=0.5 * np.exp(-share * haze_per_m * path),
        white=np.full_like(depth, 0.5),
        fine_std=std,
        coarse_std=std,
        white_std=std,
    )


def test_light_that_water_mirrors_from_above_the_plate_changes_no_decay() -> None:
    clear = plain(1.0)
    deep = clear.depth_mm > 80
    lit = replace(clear, white=clear.white + 0.02 * deep)
    told = replace(lit, mirrors_black=~deep)
    decays = [fit_slopes(one).far_per_m[0] for one in (clear, lit, told)]
    assert decays[2] == pytest.approx(decays[0], rel=1e-3)
    assert decays[1] > 1.2 * decays[0]


def judged(count: int) -> list[tuple[float, HazeEstimate]]:
    """Return haze and its estimate, with noise, for tubs no constant was derived from.

    Those seen from the side, which a check of the photo flags, are left out.
    """
    traced = np.load(LIGHT)
    light, error = traced["light"][:, 0], traced["error"][:, 0].astype(float)
    shots = [shot for plan in all_photos() for shot in plan.ladders][:count]
    rng = np.random.default_rng(3)
    found = []
    for number, shot in enumerate(shots):
        if abs(shot.tub.azimuth_deg) > ASIDE.doubtful:
            continue
        scene = scenes.scene_of(shot.tub, shot.water, 0)
        profile = scenes.photo_profile(scene, light[number], error[number], shot.level_mm)
        noisy = {
            name: getattr(profile, name) + rng.normal(0, NOISE, len(profile.depth_mm))
            for name in ("fine", "coarse", "white")
        }
        stds = {f"{name}_std": np.full(len(profile.depth_mm), NOISE) for name in noisy}
        view = float(np.cos(np.radians(shot.tub.view_deg)))
        estimate = estimate_haze(replace(profile, **noisy, **stds), view)
        found.append((shot.water.attenuation_per_m[0], estimate))
    return found


def test_an_exponential_is_found_whatever_its_scale() -> None:
    path = np.linspace(0.005, 0.15, 40)
    series = np.stack([np.exp(-25 * path), 7 * np.exp(-25 * path)])
    found = fit_decay(path, series, np.full(40, 1e-4), 1e-3)
    assert found.slope_per_m == pytest.approx([25.0, 25.0])
    assert found.start == pytest.approx([1.0, 7.0])


def test_a_veil_leaves_the_slopes_of_contrast_alone() -> None:
    clean = fit_slopes(plain(30.0))
    veiled = fit_slopes(replace(plain(30.0), white=plain(30.0).white + 0.2))
    assert veiled.fine_per_m == pytest.approx(clean.fine_per_m)
    assert veiled.coarse_per_m == pytest.approx(clean.coarse_per_m)


def test_estimates_of_traced_tubs_keep_their_stated_errors() -> None:
    found = [(haze, one) for haze, one in judged(240) if one.bound is None]
    z = np.array([(one.haze_per_m - haze) / one.std_per_m for haze, one in found])
    assert len(found) > 150
    assert 0.9 <= (np.abs(z) < 2).mean() <= 0.99
    assert (np.abs(z) < 3).mean() >= 0.985
    murky = [np.log(one.haze_per_m / haze) for haze, one in found if 10 <= haze < 60]
    assert np.percentile(np.abs(murky), 80) < 0.15


def test_white_that_dims_in_blue_tells_brown_water_from_milky() -> None:
    """Blood's pigment absorbs blue light, which fat droplets but scatter.

    What is absorbed takes white and contrast alike (Beer's law) and leaves their ratio, by whose
    decay clear water is read: the haze of brown water is more of it.
    """
    law = slope_law().kind
    blind = np.diag([np.nan, np.nan, 0.01, np.nan, 0.0])
    told = [law.log_gain(0, 0.3, np.array([0, 0, sign, 0]), blind)[0] for sign in (1.2, 0.0)]
    assert told[0] - told[1] > 0.1


def test_contrast_that_decays_faster_in_blue_tells_fat_from_scum() -> None:
    """Fat emulsions attenuate blue light 1.8 to 2.05 times as much as red, coarse scum hardly more.

    Michels, Foschum & Kienle (2008), Opt. Express 16, 5907. Scum scatters farther forward, so that
    contrast decays less at the same haze.
    """
    law = slope_law().kind
    blind = np.diag([np.nan, np.nan, np.nan, 0.01, 0.0])
    fat, scum = (law.log_gain(0, 0.15, np.full(4, np.log(ratio)), blind) for ratio in (1.9, 1.15))
    unknown = law.log_gain(0, 0.15, np.full(4, np.nan), blind)
    assert scum[0] - fat[0] > 0.1
    assert fat[1] < unknown[1]


def test_blur_takes_narrow_stripes_by_the_inverse_square_of_their_width() -> None:
    """A Gaussian's transfer falls with the square of the frequency, to first order."""
    law = colour_law()
    assert law.blur_at(4.0, 0) == pytest.approx(4 * law.blur_at(8.0, 0))
    assert 0 < law.blur_at(4.0, 0) < law.blur_at(4.0, 2)


def of_colours(stripe_px: float, bright_loss: float) -> Colours:
    """Return what a red photo with stripes so wide tells, and its brightness of the loss."""
    return Colours(
        channel=0,
        stripe_px=stripe_px,
        bright_loss=np.full(1 + DRAWS, bright_loss),
        signs=np.full((1 + DRAWS, 3), np.nan),
    )


def test_blur_of_narrow_stripes_is_no_sign_of_the_water(monkeypatch: pytest.MonkeyPatch) -> None:
    law, sharp, colours = colour_law(), plain(3.0, share=0.9), of_colours(4.0, np.nan)
    blurred = replace(sharp, fine=sharp.fine * np.exp(-law.blur_at(4.0, 0) * sharp.path_m))
    found = estimate_haze(blurred, 0.77, colours).haze_per_m
    unblurred = replace(law, blurs_per_m=(0.0, 0.0, 0.0))
    monkeypatch.setattr(haze, "colour_law", lambda: unblurred)
    assert found == pytest.approx(estimate_haze(sharp, 0.77, colours).haze_per_m, rel=0.005)


def test_brightness_counts_the_more_the_narrower_the_stripes_are() -> None:
    """JPEG keeps brightness whole, and colour at half the size (ITU-T T.871)."""
    slopes = fit_slopes(plain(30.0, share=0.7), DRAWS, 0)
    own = float(np.log(slopes.fine_per_m[0] / slopes.coarse_per_m[0]))
    told = own + 0.2
    mixed = [
        with_brightness(slopes, of_colours(px, told / colour_law().factors[0]))
        for px in (3.0, 6.0, 60.0)
    ]
    losses = [float(np.log(one.fine_per_m[0] / one.coarse_per_m[0])) for one in mixed]
    assert told > losses[0] > losses[1] > losses[2] > own
    assert losses[0] - own > 0.15
    assert losses[2] - own < 0.05


def test_noise_that_the_draws_show_is_no_error_of_the_law_too() -> None:
    slopes, law = fit_slopes(plain(30.0, share=0.7), DRAWS, 0), colour_law()
    noisy = np.append(0.0, np.random.default_rng(6).normal(0, 0.1, DRAWS))
    slopes = replace(slopes, fine_per_m=slopes.coarse_per_m * np.exp(0.3 + noisy))
    alone = with_brightness(slopes, of_colours(60.0, np.nan))
    left = np.log(alone.fine_per_m / alone.coarse_per_m) - 0.3 - noisy
    assert np.std(left[1:]) == pytest.approx(law.own_std_at(60.0) * haze.LAW_NOISE[1:].std())


def test_ink_that_is_darker_the_lower_is_so_in_all_colours() -> None:
    profile = plain(1.0)
    far = [haze.fit_drawn(profile, channel).far_per_m for channel in range(3)]
    plain_far = [fit_slopes(profile, DRAWS, channel).far_per_m for channel in range(3)]
    added = np.subtract(far, plain_far)
    assert added[1] == pytest.approx(added[0])
    assert added[2] == pytest.approx(added[0])
    assert added[0][1:].std() == pytest.approx(haze.EMPTY_DECAY_STD_PER_M)


def test_a_decay_that_errs_with_its_signs_leaves_the_haze_surer() -> None:
    """A decay that is too fast makes the share of forward scatter, and so the gain, too low."""
    law, signs = slope_law().kind, slope_law().kind.kinds[0][0].mean[0]
    noise = np.diag([1e-4, 0.04, 1e-4, 1e-4, 0.04])
    together = noise.copy()
    together[1, 4] = together[4, 1] = -0.036
    apart, joint = (law.log_gain(0, 0.3, signs, one) for one in (noise, together))
    assert joint[1] < apart[1] - 0.01
    assert joint[0] == pytest.approx(apart[0], abs=0.02)


def test_each_colour_goes_by_its_own_kinds_of_water() -> None:
    law, signs = slope_law().kind, np.full(4, np.nan)
    [plain_kind, *_] = law.kinds[0]
    kinds = [(replace(plain_kind, gain=np.array([gain, 0.0, 0.0])),) for gain in (0.0, 0.1, 0.3)]
    own = replace(law, kinds=tuple(kinds))
    gains = [own.log_gain(channel, 0.3, signs, np.eye(5))[0] for channel in range(3)]
    assert np.subtract(gains, gains[0]) == pytest.approx([0.0, 0.1, 0.3])


def test_signs_that_are_known_leave_what_waters_of_a_kind_differ_by() -> None:
    law = slope_law().kind
    for channel, kinds in enumerate(law.kinds):
        _, std = law.log_gain(channel, 0.3, kinds[0].mean[0], 1e-6 * np.eye(5))
        known = [float(np.exp(kind.log_std_line @ [1.0, 0.3])) for kind in kinds]
        assert std >= min(known)


def test_signs_count_for_the_less_the_noisier_they_are() -> None:
    law = slope_law().kind
    brown = np.array([1.2, 0.1, 1.2, 0.3])
    sure = np.diag([1.0, 1.0, 1.0, 1.0, 0.0])  # of the decay
    told = [law.log_gain(0, 0.3, brown, noise * sure) for noise in (1e-4, 0.1, 1.0, 1e4)]
    gains, stds = np.transpose(told)
    assert gains[0] > gains[-1] + 0.1
    assert stds[0] == min(stds)
    nothing = np.full(4, np.nan)
    assert told[-1] == pytest.approx(law.log_gain(0, 0.3, nothing, sure), abs=1e-2)


@pytest.mark.parametrize("noise", [np.zeros((5, 5)), np.full((5, 5), 0.1)])
def test_signs_known_without_doubt_are_no_obstacle(noise: np.ndarray) -> None:
    """A photo spoilt by glare can leave all its resamples alike, so that nothing is random."""
    gain, std = slope_law().kind.log_gain(0, 0.3, np.array([0.1, 0.2, 0.1, 0.2]), noise)
    assert np.isfinite([gain, std]).all()


def test_clear_water_gives_a_bound_below() -> None:
    rng = np.random.default_rng(1)
    profile = plain(0.0)
    noisy = replace(profile, coarse=profile.coarse + rng.normal(0, 1e-3, len(profile.coarse)))
    estimate = estimate_haze(noisy, 0.77)
    assert estimate.bound is Bound.BELOW
    assert 0.05 < estimate.haze_per_m < 0.6


def test_lost_stripes_give_a_bound_above() -> None:
    profile = plain(900.0)
    estimate = estimate_haze(profile, 0.77)
    assert estimate.bound is Bound.ABOVE
    assert 50 < estimate.haze_per_m <= 900
    # The same contrast, lost over a path that is longer by the error of the depth.
    deeper = replace(profile, path_m=profile.path_m + DEPTH_STD_M)
    least, less = estimate.haze_per_m, estimate_haze(deeper, 0.77).haze_per_m
    assert least / less - 1 == pytest.approx(estimate.std_per_m / least)


def test_stripes_that_show_in_full_and_end_at_once_tell_no_haze() -> None:
    profile = plain(1.0)
    shown = np.arange(len(profile.depth_mm)) < 2
    cut = replace(profile, fine=profile.fine * shown, coarse=profile.coarse * shown)
    estimate = estimate_haze(cut, 0.77)
    assert estimate.bound is None
    assert np.isnan(estimate.haze_per_m)


def test_more_haze_is_never_read_as_less() -> None:
    hazes = [0.5, 1.0, 2.0, 5.0, 12.0, 20.0, 40.0, 80.0]
    read = [estimate_haze(plain(haze), 0.77).haze_per_m for haze in hazes]
    assert read == sorted(read)
