"""Whether a skull is done: little grease left in it, and its bone settled."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from greasecheck.errors import ForecastError
from greasecheck.model.reasons import Reason, ReasonCode
from greasecheck.model.verdicts import DoneVerdict, StallVerdict
from greasecheck.predict.advice.bone_trend import BoneCourse, bone_trend
from greasecheck.predict.forecast_records import LIKELY
from greasecheck.predict.tables import species_range
from greasecheck.reference.advice import advice_value

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.predict.advice.backing import Backing
    from greasecheck.predict.advice.bone_trend import BoneLook, BoneTrend
    from greasecheck.predict.forecast_records import Forecast, SkullForecast


COURSES = {
    BoneCourse.PALING: ReasonCode.PALING,
    BoneCourse.SETTLED: ReasonCode.SETTLED,
    BoneCourse.UNKNOWN: ReasonCode.SLOPE_UNSURE,
}


# Why dates are withheld, by the verdict on the pace.
BROKEN = {StallVerdict.STALLED: ReasonCode.SLOW, StallVerdict.QUICKENED: ReasonCode.QUICKENED}


# The verdicts on a skull that still gives grease off, so that no proof holds in its tub.
LEACHING = {DoneVerdict.GREASE_LEFT, DoneVerdict.YELLOW_PATCHES, DoneVerdict.BONE_PALING}


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
        By when it does with 1 in 2 and with 9 in 10; None beyond ten years, or withheld.
    probability_degreased : float
        Probability, 0 to 1, that it holds less grease than the rule's share: done rests on it.
        No higher than the species' usual time allows, see `Backing`.
    degreased_at, surely_degreased_at : datetime.datetime or None
        By when it does with 1 in 2 and with 9 in 10; None beyond ten years, or withheld.
    grease_left_share : tuple of float
        10 %, 50 % and 90 % quantiles of the share of its grease that it holds now.
    bone : BoneTrend
        How its bone stands.
    reasons : tuple of Reason
        What it rests on.
    withheld : ReasonCode or None
        Why the dates that the haze gives are withheld; None while they stand.
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
    withheld: ReasonCode | None = None


def judge_skulls(
    forecast: Forecast,
    bones: Sequence[SkullBone],
    stall: StallVerdict,
    backing: Backing,
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
    backing : Backing
        What backs quiet water.
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
    skulls = tuple(
        _advice(
            _Case(
                forecast=forecast,
                skull=skull,
                bone=bone_trend(looks.get(skull.name, ()), forecast.made_at),
                stall=stall,
                backing=backing,
                sure=sure,
            )
        )
        for skull in forecast.skulls
    )
    leaches = any(one.verdict in LEACHING for one in skulls)
    return tuple(_proved_apart(one) for one in skulls) if leaches else skulls


def _proved_apart(skull: DoneAdvice) -> DoneAdvice:
    """Return the advice beside a skull that still leaches: in its water no proof can hold."""
    if skull.verdict is not DoneVerdict.PROVE:
        return skull
    return replace(skull, verdict=DoneVerdict.PROVE_APART)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Case:
    """All that is known of one skull."""

    forecast: Forecast
    skull: SkullForecast
    bone: BoneTrend
    stall: StallVerdict
    backing: Backing
    sure: float

    @property
    def by_water(self) -> float:
        """Return the probability that it is degreased by the haze alone."""
        return self.skull.degreased.probability_by(self.forecast.made_at)

    @property
    def chance(self) -> float:
        """Return that probability, no higher than the species' usual time allows."""
        return min(self.by_water, self.backing.most_sure.get(self.skull.name, 1.0))

    @property
    def is_backed(self) -> bool:
        """Return whether more than quiet water speaks for it: proof, bone, or the usual time."""
        usual = self.backing.usual_share.get(self.skull.name, 1.0)
        return self.backing.proved or self.bone.has_cleared or usual >= self.sure

    @property
    def is_unproved(self) -> bool:
        """Return whether the proof lacks that a pace which broke, or may have stopped, asks for."""
        broke = self.backing.pace_broke or self.forecast.diagnostics.may_have_stopped
        return broke and not self.backing.proved

    @property
    def is_sure_by_water(self) -> bool:
        """Return whether by the haze alone little grease is left."""
        return self.by_water >= self.sure

    @property
    def likely(self) -> bool:
        """Return whether by the haze alone little grease is likely left."""
        return self.by_water >= LIKELY

    @property
    def bone_objection(self) -> DoneVerdict | None:
        """Return what speaks against it in the bone, where by the water it is likely."""
        if not self.likely:
            return None
        high = self.bone.yellow_patch_share_high
        share = self.bone.yellow_patch_share if high is None else high
        if share is not None and share > advice_value("most_patch_share"):
            return DoneVerdict.YELLOW_PATCHES
        return DoneVerdict.BONE_PALING if self.bone.course is BoneCourse.PALING else None


def _verdict(case: _Case) -> DoneVerdict:
    """Return what to do: the first thing that speaks against done, else what is not known yet."""
    if case.is_sure_by_water and case.stall is not StallVerdict.STEADY:
        return DoneVerdict.LOOK_AT_TUB
    if case.bone_objection is not None:
        return case.bone_objection
    if not case.is_sure_by_water:
        return DoneVerdict.GREASE_LEFT
    if not case.backing.warm:
        return DoneVerdict.MEASURE_WARMTH
    if case.bone.yellow_patch_share_high is None or case.bone.course is BoneCourse.UNKNOWN:
        return DoneVerdict.LOOK_AT_BONE
    doubted = case.is_unproved or not case.is_backed or case.chance < case.sure
    return DoneVerdict.PROVE if doubted else DoneVerdict.DONE


def _advice(case: _Case) -> DoneAdvice:
    skull, verdict = case.skull, _verdict(case)
    withheld = _withheld(case, verdict)
    return DoneAdvice(
        name=skull.name,
        species=skull.species,
        verdict=verdict,
        probability_clear=skull.dates.probability_by(case.forecast.made_at),
        clear_at=None if withheld else skull.dates.quantile(0.5),
        surely_clear_at=None if withheld else skull.dates.quantile(0.9),
        probability_degreased=case.chance,
        degreased_at=None if withheld else skull.degreased.quantile(0.5),
        surely_degreased_at=None if withheld else skull.degreased.quantile(0.9),
        grease_left_share=skull.grease_left_share,
        bone=case.bone,
        reasons=(*_water_reasons(case), *_bone_reasons(case.bone)),
        withheld=withheld,
    )


def _withheld(case: _Case, verdict: DoneVerdict) -> ReasonCode | None:
    """Return why the dates by the haze are withheld; None while they stand."""
    surer_than_usual = case.chance < (case.sure if case.is_sure_by_water else LIKELY)
    proof = verdict is DoneVerdict.PROVE
    named = (
        (case.stall in BROKEN, BROKEN.get(case.stall)),
        (case.bone_objection is not None, ReasonCode.BONE_CONTRADICTS),
        (verdict is DoneVerdict.LOOK_AT_TUB, ReasonCode.ONE_LOW_READING),
        (verdict is DoneVerdict.MEASURE_WARMTH, ReasonCode.COLD_QUESTION),
        (proof and case.is_unproved, ReasonCode.UNPROVED),
        (case.likely and surer_than_usual, ReasonCode.EARLY),
        (proof, ReasonCode.UNBACKED),
    )
    return next((code for holds, code in named if holds), None)


def _water_reasons(case: _Case) -> tuple[Reason, ...]:
    low, median, high = case.skull.grease_left_share
    rule, backing = case.forecast.rule, case.backing
    soaked = backing.soaked_days.get(case.skull.name, 0.0)
    usual = species_range(case.skull.species)
    likely = case.likely
    odds = (case.chance, rule.grease_left_share, median, low, high)
    times = (soaked, usual.low_days, usual.high_days)
    named = (
        (True, ReasonCode.GREASE_LEFT, odds),
        (case.bone_objection is not None, ReasonCode.BONE_CONTRADICTS, ()),
        (likely and case.chance < min(case.by_water, case.sure), ReasonCode.EARLY, times),
        (likely and not backing.warm, ReasonCode.COLD_QUESTION, ()),
        (likely and backing.proof_span > 0, ReasonCode.PROVED, ()),
        (likely and case.is_unproved, ReasonCode.UNPROVED, (rule.soak_days,)),
        (case.is_sure_by_water and not case.is_backed, ReasonCode.UNBACKED, (rule.soak_days,)),
        (likely, ReasonCode.UNSEEN, ()),
    )
    return tuple(Reason(code=code, values=values) for holds, code, values in named if holds)


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
