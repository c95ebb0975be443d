"""Whether a skull is done: little grease left in it, and its bone settled."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from greasecheck.errors import ForecastError
from greasecheck.model.reasons import Reason, ReasonCode
from greasecheck.predict.advice.bone_trend import BoneCourse, bone_trend
from greasecheck.predict.advice.stalled import StallVerdict
from greasecheck.reference.advice import advice_value

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.predict.advice.bone_trend import BoneLook, BoneTrend
    from greasecheck.predict.forecast_records import Forecast, SkullForecast


COURSES = {
    BoneCourse.PALING: ReasonCode.PALING,
    BoneCourse.SETTLED: ReasonCode.SETTLED,
    BoneCourse.UNKNOWN: ReasonCode.SLOPE_UNSURE,
}


class DoneVerdict(StrEnum):
    """What to do with a skull."""

    DONE = "done"
    GREASE_LEFT = "soak on: grease left"
    YELLOW_PATCHES = "soak on: little grease left but yellow patches"
    BONE_PALING = "soak on: little grease left but the bone still pales"
    LOOK_AT_BONE = "photograph the bone"
    LOOK_AT_TUB = "look at the tub"


@dataclass(frozen=True, slots=True, kw_only=True)
class SkullBone:
    """The bone readings of one skull."""

    name: str
    looks: tuple[BoneLook, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DoneAdvice:
    """Whether a skull is done.

    Attributes
    ----------
    name, species : str
        The skull.
    verdict : DoneVerdict
        What to do.
    probability_clear : float
        Probability, 0 to 1, that a fresh bath with it alone stays clear.
    clear_at, surely_clear_at : datetime.datetime or None
        By when it does with 1 in 2 and with 9 in 10; None beyond ten years.
    probability_degreased : float
        Probability, 0 to 1, that it holds less grease than the rule's share: done rests on it.
    degreased_at, surely_degreased_at : datetime.datetime or None
        By when it does with 1 in 2 and with 9 in 10; None beyond ten years.
    grease_left_share : tuple of float
        10 %, 50 % and 90 % quantiles of the share of its grease that it holds now.
    bone : BoneTrend
        How its bone stands.
    reasons : tuple of Reason
        What it rests on.
    """

    name: str
    species: str
    verdict: DoneVerdict
    probability_clear: float
    clear_at: datetime | None
    surely_clear_at: datetime | None
    probability_degreased: float
    degreased_at: datetime | None
    surely_degreased_at: datetime | None
    grease_left_share: tuple[float, float, float]
    bone: BoneTrend
    reasons: tuple[Reason, ...]


def judge_skulls(
    forecast: Forecast,
    bones: Sequence[SkullBone],
    stall: StallVerdict,
    *,
    sure: float | None = None,
) -> tuple[DoneAdvice, ...]:
    """Judge each skull of a tub.

    Parameters
    ----------
    forecast : Forecast
        Of the tub.
    bones : sequence of SkullBone
        Bone readings; a skull without any is asked for some.
    stall : StallVerdict
        A stalled tub looks degreased without a clean bone.
    sure : float, optional
        How sure it must be degreased, 0 to 1; the table's without it.

    Raises
    ------
    ForecastError
        When `sure` is not a probability.
    """
    sure = advice_value("degreased_probability") if sure is None else sure
    if not 0 < sure < 1:
        raise ForecastError("nothing can be that sure", hint="give a share between 0 and 1")
    looks = {bone.name: bone.looks for bone in bones}
    trends = [bone_trend(looks.get(skull.name, ()), forecast.made_at) for skull in forecast.skulls]
    return tuple(
        _advice(forecast, skull, bone, _verdict(_chance(forecast, skull) >= sure, bone, stall))
        for skull, bone in zip(forecast.skulls, trends, strict=True)
    )


def _chance(forecast: Forecast, skull: SkullForecast) -> float:
    return skull.degreased.probability_by(forecast.made_at)


def _advice(
    forecast: Forecast, skull: SkullForecast, bone: BoneTrend, verdict: DoneVerdict
) -> DoneAdvice:
    probability = _chance(forecast, skull)
    low, median, high = skull.grease_left_share
    return DoneAdvice(
        name=skull.name,
        species=skull.species,
        verdict=verdict,
        probability_clear=skull.dates.probability_by(forecast.made_at),
        clear_at=skull.dates.quantile(0.5),
        surely_clear_at=skull.dates.quantile(0.9),
        probability_degreased=probability,
        degreased_at=skull.degreased.quantile(0.5),
        surely_degreased_at=skull.degreased.quantile(0.9),
        grease_left_share=skull.grease_left_share,
        bone=bone,
        reasons=(
            Reason(
                code=ReasonCode.GREASE_LEFT,
                values=(probability, forecast.rule.grease_left_share, median, low, high),
            ),
            *_bone_reasons(bone),
        ),
    )


def _verdict(is_degreased: bool, bone: BoneTrend, stall: StallVerdict) -> DoneVerdict:
    if not is_degreased:
        return DoneVerdict.GREASE_LEFT
    if stall is not StallVerdict.STEADY:
        return DoneVerdict.LOOK_AT_TUB
    if bone.yellow_patch_share_high is None:
        return DoneVerdict.LOOK_AT_BONE
    if bone.yellow_patch_share_high > advice_value("most_patch_share"):
        return DoneVerdict.YELLOW_PATCHES
    return {
        BoneCourse.SETTLED: DoneVerdict.DONE,
        BoneCourse.PALING: DoneVerdict.BONE_PALING,
        BoneCourse.UNKNOWN: DoneVerdict.LOOK_AT_BONE,
    }[bone.course]


def _bone_reasons(bone: BoneTrend) -> tuple[Reason, Reason]:
    share, slope = bone.yellow_patch_share, bone.slope_per_week
    low, high = bone.slope_low_per_week, bone.slope_high_per_week
    patches = (
        Reason(code=ReasonCode.PATCHES_UNREAD)
        if share is None
        else Reason(code=ReasonCode.PATCHES, values=(share,))
    )
    if slope is None or low is None or high is None:
        return patches, Reason(code=ReasonCode.FEW_LOOKS, values=(bone.looks,))
    return patches, Reason(code=COURSES[bone.course], values=(slope, low, high))
