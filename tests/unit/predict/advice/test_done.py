from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from greasecheck.errors import ForecastError
from greasecheck.model.reasons import ReasonCode
from greasecheck.model.verdicts import DoneVerdict, StallVerdict
from greasecheck.predict.advice.backing import Backing
from greasecheck.predict.advice.bone_trend import BoneLook
from greasecheck.predict.advice.done import SkullBone, judge_skulls
from greasecheck.predict.forecast_records import ClearDates, Forecast
from greasecheck.predict.outlook.forecasting import forecast
from greasecheck.words.reasons import reasons_words
from tests.unit.predict.tubs import START, day, fading_tub

NOW = day(24)
SOUND = Backing(
    warm=True,
    was_warm=True,
    proof_span=1.0,
    refuted=False,
    pace_broke=False,
    usual_share={"buck": 0.5},
    most_sure={"buck": 0.99},
    soaked_days={"buck": 24.0},
)


@pytest.fixture(scope="module")
def found() -> Forecast:
    return forecast(fading_tub(1), NOW)


def with_chance(found: Forecast, probability: float) -> Forecast:
    """Return the forecast with its only skull degreased now with a probability."""
    days = np.where(np.arange(100) < round(100 * probability), 10.0, 200.0)
    (skull,) = found.skulls
    return replace(found, skulls=(replace(skull, degreased=ClearDates(origin=START, days=days)),))


def bone(slope_per_week: float = 0.0, share: float | None = 0.01) -> SkullBone:
    return SkullBone(
        name="buck",
        looks=tuple(
            BoneLook(
                at=START + timedelta(days=n),
                yi_e313=25 + slope_per_week * n / 7,
                yellow_patch_share=share,
            )
            for n in range(0, 24, 2)
        ),
    )


@pytest.mark.parametrize(
    ("probability", "bones", "stall", "verdict"),
    [
        (0.95, (bone(),), StallVerdict.STEADY, DoneVerdict.DONE),
        (0.80, (bone(),), StallVerdict.STEADY, DoneVerdict.GREASE_LEFT),
        (0.95, (bone(share=0.2),), StallVerdict.STEADY, DoneVerdict.YELLOW_PATCHES),
        (0.95, (bone(-3.0),), StallVerdict.STEADY, DoneVerdict.BONE_PALING),
        (0.95, (bone(share=None),), StallVerdict.STEADY, DoneVerdict.LOOK_AT_BONE),
        (0.95, (), StallVerdict.STEADY, DoneVerdict.LOOK_AT_BONE),
        (0.95, (bone(),), StallVerdict.STALLED, DoneVerdict.LOOK_AT_TUB),
        (0.95, (bone(),), StallVerdict.ODD_READING, DoneVerdict.LOOK_AT_TUB),
        (0.95, (bone(),), StallVerdict.QUICKENED, DoneVerdict.LOOK_AT_TUB),
        (0.60, (bone(share=0.6),), StallVerdict.STEADY, DoneVerdict.YELLOW_PATCHES),
        (0.40, (bone(share=0.6),), StallVerdict.STEADY, DoneVerdict.GREASE_LEFT),
        (0.10, (bone(),), StallVerdict.STALLED, DoneVerdict.GREASE_LEFT),
    ],
)
def test_done_needs_little_grease_and_a_settled_bone_and_a_sound_tub(
    found: Forecast,
    probability: float,
    bones: tuple[SkullBone, ...],
    stall: StallVerdict,
    verdict: DoneVerdict,
) -> None:
    (advice,) = judge_skulls(with_chance(found, probability), bones, stall, SOUND)
    assert advice.verdict is verdict
    assert advice.probability_degreased == pytest.approx(probability)


def test_reasons_state_probability_patches_and_slope(found: Forecast) -> None:
    (advice,) = judge_skulls(with_chance(found, 0.95), (bone(-3.0),), StallVerdict.STEADY, SOUND)
    first, *rest = reasons_words(advice.reasons)
    assert first.startswith("95% sure: less than 10% of its grease is left; now ")
    assert rest[:3] == [
        "the water says that little grease is left, the bone says not yet: is the water warm?",
        "a warm bath left alone stayed nearly clear",
        "the haze shows no grease that no water has reached, as in marrow still closed: are the"
        " holes drilled?",
    ]
    assert rest[3:] == [
        "1% of the bone in yellow patches, by its last photos",
        "yellowness -3.0 a week (-3.0 to -3.0): still paling",
    ]


def test_a_slope_too_unsure_is_told_so(found: Forecast) -> None:
    misses = np.random.default_rng(2).normal(0.0, 8.0, len(bone().looks))
    unsure = replace(
        bone(),
        looks=tuple(
            replace(look, yi_e313=look.yi_e313 + miss)
            for look, miss in zip(bone().looks, misses, strict=True)
        ),
    )
    (advice,) = judge_skulls(with_chance(found, 0.95), (unsure,), StallVerdict.STEADY, SOUND)
    assert advice.verdict is DoneVerdict.LOOK_AT_BONE
    assert advice.reasons[-1].code is ReasonCode.SLOPE_UNSURE


def test_the_user_may_ask_for_less_or_more_certainty(found: Forecast) -> None:
    likely = with_chance(found, 0.8)
    verdicts = [
        judge_skulls(likely, (bone(),), StallVerdict.STEADY, SOUND, sure=sure)[0].verdict
        for sure in (0.75, 0.85)
    ]
    assert verdicts == [DoneVerdict.DONE, DoneVerdict.GREASE_LEFT]


@pytest.mark.parametrize("sure", [0.0, 1.0, float("nan")])
def test_certainty_is_no_probability(found: Forecast, sure: float) -> None:
    with pytest.raises(ForecastError, match="that sure"):
        judge_skulls(found, (), StallVerdict.STEADY, SOUND, sure=sure)


@pytest.mark.parametrize(
    ("backing", "verdict", "code"),
    [
        (replace(SOUND, warm=False), DoneVerdict.MEASURE_WARMTH, ReasonCode.COLD_QUESTION),
        (replace(SOUND, most_sure={"buck": 0.85}), DoneVerdict.PROVE, ReasonCode.EARLY),
        (
            replace(SOUND, pace_broke=True, proof_span=0.0),
            DoneVerdict.PROVE,
            ReasonCode.UNPROVED,
        ),
        (replace(SOUND, pace_broke=True), DoneVerdict.DONE, ReasonCode.PROVED),
        (replace(SOUND, proof_span=0.0), DoneVerdict.PROVE, ReasonCode.UNBACKED),
    ],
)
def test_quiet_water_alone_does_not_make_a_skull_done(
    found: Forecast, backing: Backing, verdict: DoneVerdict, code: ReasonCode
) -> None:
    (advice,) = judge_skulls(with_chance(found, 0.99), (bone(),), StallVerdict.STEADY, backing)
    assert advice.verdict is verdict
    assert code in {reason.code for reason in advice.reasons}
    assert ReasonCode.UNSEEN in {reason.code for reason in advice.reasons}
    assert advice.probability_degreased <= backing.most_sure["buck"]


def test_a_bone_that_paled_until_it_was_clean_or_a_long_soak_backs_quiet_water(
    found: Forecast,
) -> None:
    sure = with_chance(found, 0.95)
    unproved = replace(SOUND, proof_span=0.0)
    paled = replace(bone(), looks=(*(pale(-n, 45.0) for n in (9, 6, 3, 1)), *bone().looks))
    yellow = replace(bone(), looks=tuple(replace(look, yi_e313=38.0) for look in bone().looks))
    long = replace(unproved, usual_share={"buck": 0.92})
    for seen, backing, done in (
        (paled, unproved, True),
        (bone(), unproved, False),
        (yellow, unproved, False),
        (bone(), long, True),
    ):
        (advice,) = judge_skulls(sure, (seen,), StallVerdict.STEADY, backing)
        assert (advice.verdict is DoneVerdict.DONE) is done
        assert advice.withheld is (None if done else ReasonCode.UNBACKED)


def pale(days: int, yi_e313: float) -> BoneLook:
    return BoneLook(at=START + timedelta(days=days), yi_e313=yi_e313, yellow_patch_share=0.01)


def test_dates_that_are_surer_than_the_usual_time_allows_are_withheld(found: Forecast) -> None:
    capped = replace(SOUND, most_sure={"buck": 0.3})
    for chance, withheld in ((0.45, None), (0.6, ReasonCode.EARLY), (0.95, ReasonCode.EARLY)):
        skulls = judge_skulls(with_chance(found, chance), (bone(),), StallVerdict.STEADY, capped)
        assert [one.withheld for one in skulls] == [withheld]


def test_no_day_may_be_promised_against_the_bone_or_the_pace(found: Forecast) -> None:
    likely = with_chance(found, 0.7)
    cases = [
        (bone(), StallVerdict.STEADY, True),
        (bone(), StallVerdict.ODD_READING, True),
        (bone(share=0.6), StallVerdict.STEADY, False),
        (bone(-3.0), StallVerdict.STEADY, False),
        (bone(), StallVerdict.STALLED, False),
        (bone(), StallVerdict.QUICKENED, False),
    ]
    for seen, pace, holds in cases:
        (advice,) = judge_skulls(likely, (seen,), pace, SOUND)
        assert (advice.withheld is None) is holds
