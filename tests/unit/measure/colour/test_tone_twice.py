"""Tone curve, channels' powers and their use, derived a second time with plain numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.measure.colour.camera_tone import CameraTone, fit_camera_tone, fit_camera_tones
from greasecheck.measure.colour.tone_curve import ToneCurve, fit_tone, identity_tone
from greasecheck.measure.robust import robust_scale, robust_weights
from greasecheck.reference.srgb import LUMINANCE

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

GREYS = np.geomspace(0.02, 0.8, 9)
SQUARE = ToneCurve(table=identity_tone().table ** 2)


def test_powers_are_a_ridge_regression_of_hue_on_level() -> None:
    rng = np.random.default_rng(7)
    linear = GREYS[:, None] ** np.array([1.04, 1.0, 0.93]) * rng.normal(1, 0.01, (9, 3))
    expected = GREYS[:, None] * np.array([0.98, 1.0, 1.05])
    std = np.linspace(0.005, 0.05, 9)
    seen, wanted = np.log(linear), np.log(expected)
    weight = 1 / (0.01**2 + std**2)
    level = seen[:, 1] - np.sum(weight * seen[:, 1]) / weight.sum()
    for channel in (0, 2):
        missing = (wanted[:, channel] - wanted[:, 1]) - (seen[:, channel] - seen[:, 1])
        missing = missing - np.sum(weight * missing) / weight.sum()
        rows = np.append(level * np.sqrt(weight), 1 / 0.01)
        values = np.append(missing * np.sqrt(weight), 0.0)
        power = float(rows @ values / (rows @ rows))
        found = fit_camera_tone(linear, expected, std)
        assert found.powers[channel] == pytest.approx(power, rel=1e-9)
        assert found.powers[1] == pytest.approx(0, abs=1e-12)
        pivot = np.exp(np.sum(weight * seen[:, channel]) / weight.sum())
        assert found.pivot[channel] == pytest.approx(pivot)


def test_the_curve_is_fitted_to_green_or_to_the_luminance() -> None:
    linear = GREYS[:, None] * np.array([1.0, 1.0, 0.9])
    expected = linear**1.2
    for share in (0.0, 1.0):
        mixed = (1 - share) * np.eye(3)[1] + share * LUMINANCE
        found = fit_camera_tone(linear, expected, np.full(9, 0.01), luminance_share=share)
        level = found.levelled(linear)
        alone = fit_tone(level @ mixed, expected @ mixed, np.full(9, 0.01))
        assert found.curve.table == pytest.approx(alone.table)


def test_greys_that_a_photo_shows_alike_leave_the_line_through_zero() -> None:
    light = np.array([0.1, 0.2, 0.4, 0.8])
    seen = fit_tone(np.full(9, 0.4), GREYS, np.full(9, 0.01))(light)
    assert seen / seen[0] == pytest.approx(light / light[0], rel=1e-3)


def test_several_choices_of_greys_are_fitted_as_each_by_itself() -> None:
    rng = np.random.default_rng(11)
    expected = GREYS[:, None] * np.array([0.98, 1.0, 1.05])
    linear = expected ** np.array([1.24, 1.2, 1.13]) * rng.normal(1, 0.02, (9, 3))
    linear[4] *= 0.7  # one lies in a shadow
    std = np.linspace(0.005, 0.05, 9)
    used = ~np.eye(9, dtype=bool)[[0, 3, 8]]
    used[1, 6:8] = False
    together = fit_camera_tones(linear, expected, std, used, luminance_share=0.3)
    for found, chosen in zip(together, used, strict=True):
        alone = fit_camera_tone(linear[chosen], expected[chosen], std[chosen], luminance_share=0.3)
        assert found.powers == pytest.approx(alone.powers, abs=1e-12)
        assert found.pivot == pytest.approx(alone.pivot)
        assert found.curve.table == pytest.approx(alone.curve.table)


@pytest.mark.parametrize("share", [0.0, 0.25, 1.0])
def test_a_curve_goes_on_each_channel_on_the_luminance_or_between(share: float) -> None:
    tone = CameraTone(
        curve=SQUARE,
        powers=np.array([0.5, 0.0, -0.5]),
        pivot=np.array([0.25, 1.0, 0.25]),
        luminance_share=share,
    )
    # red 0.36 (0.36 / 0.25)^0.5 = 0.432, blue 0.16 (0.16 / 0.25)^-0.5 = 0.2
    level = np.array([0.432, 0.5, 0.2])
    luminance = float(0.2126 * 0.432 + 0.7152 * 0.5 + 0.0722 * 0.2)
    expected = (1 - share) * level**2 + share * level * luminance
    assert tone(np.array([[0.36, 0.5, 0.16]]))[0] == pytest.approx(expected, rel=1e-4)


def test_black_stays_finite_and_black() -> None:
    tone = CameraTone(
        curve=identity_tone(),
        powers=np.array([-0.5, 0.0, -0.5]),
        pivot=np.ones(3),
        luminance_share=0.5,
    )
    assert tone(np.array([[0.0, -0.1, 0.0]]))[0] == pytest.approx([0, 0, 0], abs=1e-9)


def heights(
    value: FloatArray, target: FloatArray, std: FloatArray, knots: FloatArray
) -> FloatArray:
    """Fit a line of ten knots whose slopes are 1 within 0.5, and bend by 0.4 from knot to knot."""
    data = np.array([np.interp(v, knots, np.eye(10)[k]) for v in value for k in range(10)])
    data = data.reshape(len(value), 10)
    step = knots[1] - knots[0]
    slope = (np.eye(10)[1:] - np.eye(10)[:-1]) / step
    prior = np.concatenate([slope / 0.5, (slope[1:] - slope[:-1]) / 0.4])
    pulled = np.concatenate([np.full(9, 1 / 0.5), np.zeros(8)])
    weights = np.ones(len(value))
    for turn in range(4):
        sure = np.sqrt(weights) / std
        rows = np.concatenate([data * sure[:, None], prior])
        wanted = np.concatenate([target * sure, pulled])
        solution = np.linalg.solve(rows.T @ rows, rows.T @ wanted)
        rest = (target - data @ solution) / std
        scale = 1.0 if turn < 2 else robust_scale(rest, 1.0)
        weights = robust_weights(rest, scale, absolute=turn < 2)
    return np.asarray(solution)


@pytest.mark.parametrize("case", ["curved", "one hidden", "steep", "flat"])
def test_the_curve_is_the_one_that_the_text_describes(case: str) -> None:
    power = {"steep": 4.0, "flat": 0.2}.get(case, 1.3)
    linear, std = GREYS.copy(), np.linspace(0.02, 0.05, 9)
    target = 90 * GREYS**power
    if case == "one hidden":
        target[4] *= 0.5
    value = np.log(linear)
    knots = np.linspace(value[0], value[-1], 10)
    found = heights(value, np.log(target), std, knots)
    slopes = np.clip(np.diff(found) / np.diff(knots), 0.4, 2.5)
    curve = fit_tone(linear, target, std)
    # knot by knot a power law, and the lightest grey stays where it is
    for k in range(9):
        low, high = curve(np.exp(knots[k : k + 2]))
        assert np.log(high / low) / np.diff(knots)[k] == pytest.approx(slopes[k], abs=0.02)
    assert float(curve(np.exp(knots[-1:]))[0]) == pytest.approx(0.8, rel=1e-3)
    # a line through zero below the darkest, the last power law above the lightest
    dark = float(curve(np.exp(knots[:1]))[0])
    assert float(curve(np.array([0.01]))[0]) == pytest.approx(dark / 2, rel=2e-3)
    assert float(curve(np.array([1.2]))[0]) == pytest.approx(0.8 * 1.5 ** slopes[-1], rel=2e-3)


def test_the_table_is_fine_and_ends_above_full_scale() -> None:
    values = np.array([1e-5, 3.3e-4, 0.5, 1.0, 1.45])
    assert identity_tone()(values) == pytest.approx(values, rel=1e-3, abs=1e-7)
    assert float(identity_tone()(np.array([9.0]))[0]) == pytest.approx(1.5, rel=1e-6)
    assert len(identity_tone().table) > 2**12
