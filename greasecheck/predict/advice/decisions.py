"""From one fit of a tub to all its decisions."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING

from greasecheck.model.reasons import Reason, ReasonCode
from greasecheck.model.verdicts import ChangeVerdict, DoneVerdict, StallVerdict
from greasecheck.predict.advice.backing import backing_of, filled_at
from greasecheck.predict.advice.change_interval import advise_change, verdict_on
from greasecheck.predict.advice.done import judge_skulls
from greasecheck.predict.advice.standing import judge_pace, with_reasons
from greasecheck.predict.forecast_records import LIKELY
from greasecheck.predict.one_thread import on_one_thread
from greasecheck.predict.outlook.forecasting import checked_rule, fit_tub, project

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.predict.advice.backing import Backing
    from greasecheck.predict.advice.bone_trend import BoneLook
    from greasecheck.predict.advice.change_interval import ChangeAdvice, ChangeCost
    from greasecheck.predict.advice.done import DoneAdvice, SkullBone
    from greasecheck.predict.advice.stalled import StallReport
    from greasecheck.predict.fit.tub_fit import TubFit
    from greasecheck.predict.forecast_records import ClearDates, Forecast
    from greasecheck.predict.records import ClearRule, FinishedTub, TubHistory

LAST_PHOTO_DAYS = 1.0  # that the photo which ends a proof is waited for; no source
PROVING = frozenset({DoneVerdict.DONE, DoneVerdict.PROVE, DoneVerdict.LOOK_AT_BONE})


@dataclass(frozen=True, slots=True, kw_only=True)
class TubAdvice:
    """All decisions about a tub.

    Attributes
    ----------
    forecast : Forecast
        When it runs clear and is degreased.
    stall : StallReport
        Whether it leaches as expected.
    change : ChangeAdvice
        When to change its water.
    skulls : tuple of DoneAdvice
        Whether each skull is done.
    proved : bool
        Whether a warm bath that was left alone shows that little grease is left.
    fit : TubFit or None
        What all of it rests on; None when the advice was kept from before.
    """

    forecast: Forecast
    stall: StallReport
    change: ChangeAdvice
    skulls: tuple[DoneAdvice, ...]
    proved: bool
    fit: TubFit | None

    @property
    def withheld(self) -> ReasonCode | None:
        """Return why the tub's dates are withheld; None while they stand."""
        return next((one.withheld for one in self.skulls if one.withheld), None)

    @property
    def degreased(self) -> ClearDates | None:
        """Return when the last skull is degreased; None where that is withheld."""
        return None if self.withheld else self.forecast.degreased

    @property
    def runs_clear(self) -> ClearDates | None:
        """Return when the water runs clear; None where that is withheld."""
        return None if self.withheld else self.forecast.dates

    @property
    def probability_degreased_now(self) -> float:
        """Return how sure all are degreased, 0 to 1: no surer than of each."""
        each = (one.probability_degreased for one in self.skulls)
        return min(self.forecast.probability_degreased_now, *each)

    @property
    def skull_dates(self) -> dict[str, ClearDates]:
        """Return when each skull is degreased by its name, of those whose dates stand."""
        standing = {one.name for one in self.skulls if one.withheld is None}
        return {one.name: one.degreased for one in self.forecast.skulls if one.name in standing}


@on_one_thread
def advise(  # noqa: PLR0913 - all that a decision may rest on
    history: TubHistory,
    now: datetime,
    *,
    bones: Sequence[SkullBone] = (),
    cost: ChangeCost | None = None,
    rule: ClearRule | None = None,
    finished: Sequence[FinishedTub] = (),
    checked_at: datetime | None = None,
    sure: float | None = None,
) -> TubAdvice:
    """Decide about a tub and its skulls.

    Parameters
    ----------
    history : TubHistory
        Of the tub.
    now : datetime.datetime
        Zone-aware.
    bones : sequence of SkullBone
        Bone readings of its skulls.
    cost : ChangeCost, optional
        What changes and days cost; the table's without it.
    rule : ClearRule, optional
        What counts as clear and as degreased; the usual rule without it.
    finished : sequence of FinishedTub
        The user's own finished tubs.
    checked_at : datetime.datetime, optional
        When somebody last found heater, soap and bone all well.
    sure : float, optional
        How sure a skull must be degreased before it is done, 0 to 1; the table's without it.

    Raises
    ------
    ForecastError
        As `forecast`, `advise_change` and `judge_skulls` do.
    """
    fit = fit_tub(history, now, finished=finished)
    rule = checked_rule(rule)
    pace = judge_pace(fit, history, checked_at=checked_at, finished=finished)
    backing = backing_of(fit, history, rule, checked_at=checked_at, pace_broke=pace.once_broke)
    found = project(fit, rule=rule, proved=backing.proved)
    skulls = judge_skulls(found, bones, pace.report.verdict, backing, sure=sure)
    trends = [skull.bone for skull in skulls]
    change = advise_change(fit, cost=cost, rule=rule, sure=sure)
    then = replace(backing, warm=backing.was_warm)
    seen = _as_of_this_water(bones, filled_at(fit), now)
    before = judge_skulls(found, seen, _without_odd(pace.report.verdict), then, sure=sure)
    alone = any(_is_left_alone(one, backing) for one in (skulls, before))
    due = filled_at(fit) + timedelta(days=change.best_interval_days)
    was_due = due < now and _were_here(history, due, now)
    if not alone and was_due and _may_go_on(found, skulls, backing, change):
        when_due = advise(
            history,
            due,
            bones=bones,
            cost=cost,
            rule=rule,
            finished=finished,
            checked_at=None if checked_at is None or checked_at > due else checked_at,
            sure=sure,
        )
        alone = when_due.change.verdict is ChangeVerdict.ENOUGH
    return TubAdvice(
        forecast=found,
        stall=with_reasons(pace.report, found, trends, warm=backing.warm),
        change=_left(change) if alone else _gone_on(change, now),
        skulls=skulls,
        proved=backing.proved,
        fit=fit,
    )


def _is_left_alone(skulls: Sequence[DoneAdvice], backing: Backing) -> bool:
    """Return whether the water stays in: all are done, or a proof runs and none soaks on."""
    verdicts = {skull.verdict for skull in skulls}
    proofs = DoneVerdict.PROVE in verdicts and verdicts <= PROVING
    return (proofs and not backing.refuted) or verdicts == {DoneVerdict.DONE}


def _were_here(history: TubHistory, then: datetime, now: datetime) -> bool:
    """Return whether the skulls that are in the tub now were in it then."""
    here = [
        skull.since
        for skull in history.skulls
        if skull.since <= now and (skull.until is None or now < skull.until)
    ]
    return max(here) <= then


def _may_go_on(
    found: Forecast, skulls: Sequence[DoneAdvice], backing: Backing, change: ChangeAdvice
) -> bool:
    """Return whether a proof, if one was begun, may go on though all are less sure by now."""
    unsure = {skull.verdict for skull in skulls} <= {*PROVING, DoneVerdict.GREASE_LEFT}
    likely = found.probability_degreased_now >= LIKELY
    is_over = change.bath_age_days > found.rule.soak_days + LAST_PHOTO_DAYS
    return unsure and likely and not backing.refuted and not is_over


def _left(change: ChangeAdvice) -> ChangeAdvice:
    """Return the advice while the water is left in."""
    enough = (Reason(code=ReasonCode.LITTLE_GREASE),)
    return replace(change, verdict=ChangeVerdict.ENOUGH, reasons=enough)


def _as_of_this_water(
    bones: Sequence[SkullBone], filled: datetime, now: datetime
) -> list[SkullBone]:
    """Return the bones as seen when the present water went in, or last if that was later.

    A proof goes on though its bone lies in the water and is not photographed: the looks are moved
    on by as much, so that none grows too old meanwhile.
    """
    return [replace(bone, looks=_moved_on(bone.looks, filled, now)) for bone in bones]


def _moved_on(looks: Sequence[BoneLook], filled: datetime, now: datetime) -> tuple[BoneLook, ...]:
    past = [look for look in looks if look.at <= now]
    late = now - max([filled, *(look.at for look in past)])
    return tuple(replace(look, at=look.at + late) for look in past)


def _without_odd(stall: StallVerdict) -> StallVerdict:
    """Return the verdict on the pace without one odd reading, which ends no proof."""
    return StallVerdict.STEADY if stall is StallVerdict.ODD_READING else stall


def _gone_on(change: ChangeAdvice, now: datetime) -> ChangeAdvice:
    """Return the advice while the skulls soak on, though by the haze little grease is left.

    An old bath would give grease back to the bone.
    """
    if change.verdict is not ChangeVerdict.ENOUGH:
        return change
    return replace(
        change,
        verdict=verdict_on(change.due_at, now),
        reasons=(Reason(code=ReasonCode.SOAKS_ON, values=(change.best_interval_days,)),),
    )
