"""What camera and glass did to contrast, worked by hand from ladders of known gains."""

from dataclasses import replace

import numpy as np
import pytest

from greasecheck.measure.sight.contrast_ladder import LadderView
from greasecheck.measure.sight.glass import GlassView
from greasecheck.measure.sight.view import FieldPair, SightView
from greasecheck.measure.water.camera_gain import NONE, Gain, camera_gain, glass_loss, without
from greasecheck.measure.water.reference import unknown_jar
from greasecheck.measure.water.transmittance import Transmittance
from tests.synthetic.bar_pairs import CLEAR, field

# Steps printed at 10 to 90 %; their gains smoothed by 1/4, 1/2, 1/4 are 0.105, 0.0675, 0.03, 0
LADDER = LadderView(
    printed=np.array([0.1, 0.2, 0.4, 0.9]),
    fine=np.array([0.12, 0.06, 0.03, 0.0]),
    coarse=np.array([0.24, 0.12, 0.06, 0.0]),
    fine_std=np.full(4, 0.02),
    coarse_std=np.full(4, 0.04),
    greys=np.array([0.5, 0.3, 0.1]),
    levels=np.array([0.3, 0.2, 0.05]),
)


def of_modulation(value: float) -> FieldPair:
    """Return a pair whose wet bars have a modulation, and whose dry ones have 0.5."""
    wet = field(np.full(3, 1 + value), np.full(3, 1 - value))
    return replace(CLEAR, wet=wet, dry=field(np.full(3, 1.5), np.full(3, 0.5)))


@pytest.mark.parametrize(
    ("fine", "value", "trust", "noise"),
    [
        # 0.0675^2 / (0.0675^2 + 0.02^2 / 2); the coarse bars have twice the gain and the noise
        (True, 0.0675, 0.957950, 0.0141421),
        (False, 0.135, 0.957950, 0.0282843),
    ],
)
def test_a_gain_is_that_of_the_step_of_like_contrast(
    fine: bool, value: float, trust: float, noise: float
) -> None:
    seen = 0.2 * np.exp(0.06 if fine else 0.12)  # on the second step, which was lifted
    gain = camera_gain(LADDER, of_modulation(0.5 * seen / 0.9), fine=fine)
    assert gain.value == pytest.approx(value * trust, rel=1e-5)
    lift = 1.5 * (0.05 - 0.02)  # of the darkest cell beyond a plain camera's
    assert gain.std == pytest.approx(np.linalg.norm([0.4 * value, noise * trust, lift]), rel=1e-5)


def test_lost_bars_have_the_gain_of_the_faintest_step() -> None:
    gain = camera_gain(LADDER, of_modulation(0.0), fine=True)
    assert gain.value == pytest.approx(0.105 * 0.105**2 / (0.105**2 + 0.0002), rel=1e-5)


def test_a_ladder_printed_darker_than_it_is_seen_and_a_lighter_one_count_alike() -> None:
    lighter, darker = (
        camera_gain(replace(LADDER, levels=np.array([0, 0, level])), of_modulation(0.5), fine=True)
        for level in (0.05, -0.05)
    )
    assert lighter == darker
    plain = camera_gain(
        replace(LADDER, levels=np.array([0, 0, 0.019])), of_modulation(0.5), fine=True
    )
    assert plain.std == pytest.approx(0.0, abs=1e-9)
    assert camera_gain(None, CLEAR, fine=True) == NONE


@pytest.mark.parametrize(
    ("share", "value", "std"),
    [
        (0.9, 0.7 * np.log(0.9), 0.6 * (-np.log(0.9) - 0.02)),
        (0.99, 0.7 * np.log(0.99), 0.0),
        (1.1, 0.0, 0.6 * (np.log(1.1) - 0.02)),
    ],
)
def test_smear_takes_most_of_what_is_lost_above_the_water(
    share: float, value: float, std: float
) -> None:
    glass = GlassView(modulation=0.8 * share, std=0.02 * 0.8 * share, used_share=1.0)
    clear = replace(unknown_jar(60.0, 2), glass_modulation=0.8)
    loss = glass_loss(SightView(fine=CLEAR, coarse=CLEAR, glass=glass), clear)
    assert (loss.value, loss.std) == pytest.approx((value, std), abs=1e-9)


def test_without_a_glass_field_then_or_now_no_loss_is_known() -> None:
    glass = GlassView(modulation=0.5, std=0.01, used_share=1.0)
    there, without_glass = (SightView(fine=CLEAR, coarse=CLEAR, glass=g) for g in (glass, None))
    assert glass_loss(there, unknown_jar(60.0, 2)) == NONE
    assert glass_loss(without_glass, replace(unknown_jar(60.0, 2), glass_modulation=1.0)) == NONE


def test_gains_are_taken_out_and_their_errors_add() -> None:
    field_seen = Transmittance(
        bar_mm=2.0, clear_ratio=0.9, veil=0.1, kept=np.full(3, 0.5), std=np.full(3, 0.01)
    )
    freed = without(field_seen, Gain(value=0.1, std=0.02), Gain(value=-0.05, std=0.03))
    kept = 0.5 * np.exp(-0.05)
    assert freed.kept == pytest.approx(np.full(3, kept))
    std = np.sqrt((0.01 * np.exp(-0.05)) ** 2 + (kept * 0.0360555) ** 2)
    assert freed.std == pytest.approx(np.full(3, std), rel=1e-5)
