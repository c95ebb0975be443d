"""That water changes go on until the last skull is out."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import pytest

from greasecheck.model.reasons import ReasonCode
from greasecheck.model.verdicts import ChangeVerdict, DoneVerdict
from greasecheck.predict.advice import decisions
from greasecheck.predict.advice.backing import backing_of
from greasecheck.predict.advice.bone_trend import BoneLook
from greasecheck.predict.advice.change_interval import ChangeCost
from greasecheck.predict.advice.decisions import (
    _as_of_this_water,
    _is_left_alone,
    _were_here,
    advise,
)
from greasecheck.predict.advice.done import SkullBone
from greasecheck.predict.advice.standing import judge_pace
from greasecheck.predict.records import ClearRule, SoakingSkull
from tests.unit.predict.tubs import START, day, fading_tub
from tests.unit.report import season_samples as samples

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.predict.records import TubHistory

CHEAP = ChangeCost(soap=0.0, heat=0.0, work=0.2, day=3.0)  # with it 3 days are best
DEARER = replace(CHEAP, work=2.0)  # with it 9 or 11 days are, by how a processor rounds


def bone(share: float, until: int = 58, name: str = "buck") -> SkullBone:
    looks = tuple(
        BoneLook(at=day(n), yi_e313=25.0 + n % 2, yellow_patch_share=share)
        for n in range(until - 20, until, 2)
    )
    return SkullBone(name=name, looks=looks)


@pytest.mark.parametrize(
    ("share", "felt", "days", "done", "change"),
    [
        (0.3, True, 58, DoneVerdict.YELLOW_PATCHES, ChangeVerdict.WAIT),
        (0.3, True, 60, DoneVerdict.YELLOW_PATCHES, ChangeVerdict.CHANGE),
        (0.0, False, 60, DoneVerdict.MEASURE_WARMTH, ChangeVerdict.CHANGE),
        (0.0, True, 60, DoneVerdict.PROVE, ChangeVerdict.ENOUGH),  # its water is left alone
    ],
)
def test_water_is_changed_on_while_a_degreased_skull_soaks_on(
    share: float, felt: bool, days: int, done: DoneVerdict, change: ChangeVerdict
) -> None:
    advice = advise(
        fading_tub(60, half_life=5.0),  # changed every 3 days, last on day 57
        day(days),
        bones=(bone(share),),
        rule=ClearRule(grease_left_share=0.3),
        checked_at=day(days - 3) if felt else None,
        cost=CHEAP,
    )
    assert [one.verdict for one in advice.skulls] == [done]
    assert advice.change.verdict is change
    soaks_on = advice.change.reasons[0].code is ReasonCode.SOAKS_ON
    assert soaks_on is (change is not ChangeVerdict.ENOUGH)


def test_haze_that_ended_at_once_asks_for_the_proof_though_no_alarm_was_raised() -> None:
    tub = fading_tub(55, half_life=60.0, broken=(22, 55), share=0.0, every=7)
    checked_at = day(53)
    advice = advise(tub, day(55), bones=(bone(0.0, until=55),), checked_at=checked_at)
    assert advice.fit is not None
    assert not judge_pace(advice.fit, tub, checked_at=checked_at).once_broke
    assert [one.verdict for one in advice.skulls] == [DoneVerdict.PROVE]
    assert advice.withheld is ReasonCode.UNPROVED


def test_the_interval_is_the_same_just_before_and_after_the_haze_says_degreased() -> None:
    tub = fading_tub(60, half_life=5.0)
    before, after = (
        advise(tub, day(60), rule=ClearRule(grease_left_share=share)) for share in (0.16, 0.24)
    )
    sure = [one.forecast.probability_degreased_now for one in (before, after)]
    assert sure[0] < 0.9 < sure[1]
    assert before.change.reasons[0].code is ReasonCode.LEACHING
    assert after.change.reasons[0].code is ReasonCode.SOAKS_ON
    assert before.change.best_interval_days == after.change.best_interval_days


@pytest.mark.parametrize(
    ("felt", "share", "looked_until", "done", "change"),
    [
        (47, 0.0, 62, DoneVerdict.MEASURE_WARMTH, ChangeVerdict.ENOUGH),
        (59, 0.0, 50, DoneVerdict.LOOK_AT_BONE, ChangeVerdict.ENOUGH),
        (47, 0.0, 50, DoneVerdict.MEASURE_WARMTH, ChangeVerdict.ENOUGH),
        (30, 0.0, 62, DoneVerdict.MEASURE_WARMTH, ChangeVerdict.CHANGE),  # no proof was begun
        (59, 0.0, 36, DoneVerdict.LOOK_AT_BONE, ChangeVerdict.CHANGE),  # nor here
        (59, 0.3, 62, DoneVerdict.YELLOW_PATCHES, ChangeVerdict.CHANGE),
    ],
)
def test_a_proof_is_not_broken_off_when_what_it_began_on_grows_old(
    felt: int, share: float, looked_until: int, done: DoneVerdict, change: ChangeVerdict
) -> None:
    tub = fading_tub(62, half_life=5.0)
    left = replace(tub, changes=tuple(one for one in tub.changes if one.at <= day(48)))
    advice = advise(
        left,
        day(62),
        bones=(bone(share, looked_until),),
        rule=ClearRule(grease_left_share=0.3),
        checked_at=day(felt),
    )
    assert [one.verdict for one in advice.skulls] == [done]
    assert advice.change.verdict is change


def less_sure_than_before() -> TubHistory:
    """Return a tub left alone from day 48 on, whose haze since day 56 speaks for more grease."""
    tub = fading_tub(62, half_life=5.0)
    readings = tuple(
        replace(one, attenuation_per_m=3.0 * one.attenuation_per_m) if one.at > day(56) else one
        for one in tub.readings
    )
    changes = tuple(one for one in tub.changes if one.at <= day(48))
    return replace(tub, changes=changes, readings=readings)


@pytest.mark.parametrize(
    ("share", "done", "change"),
    [
        (0.0, DoneVerdict.GREASE_LEFT, ChangeVerdict.ENOUGH),
        (0.3, DoneVerdict.YELLOW_PATCHES, ChangeVerdict.CHANGE),
    ],
)
def test_a_proof_is_not_broken_off_because_it_became_a_little_less_sure(
    share: float, done: DoneVerdict, change: ChangeVerdict
) -> None:
    advice = advise(
        less_sure_than_before(),
        day(61),
        bones=(bone(share, 61),),
        rule=ClearRule(grease_left_share=0.17),
        checked_at=day(54),
        cost=DEARER,
    )
    assert 0.5 < advice.forecast.probability_degreased_now < 0.9
    assert [one.verdict for one in advice.skulls] == [done]
    assert advice.change.verdict is change


@pytest.mark.parametrize(("checked", "is_known"), [(54, True), (60, False)])
def test_what_was_advised_when_a_change_was_due_knew_nothing_of_later_checks(
    checked: int, is_known: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = []

    def advised(history: TubHistory, due: datetime, **options: Any) -> object:  # noqa: ANN401
        assert day(54) < due < day(60)
        asked.append(options["checked_at"])
        return SimpleNamespace(change=SimpleNamespace(verdict=ChangeVerdict.WAIT))

    monkeypatch.setattr(decisions, "advise", advised)
    advise(
        less_sure_than_before(),
        day(61),
        bones=(bone(0.0, 61),),
        rule=ClearRule(grease_left_share=0.17),
        checked_at=day(checked),
        cost=DEARER,
    )
    assert asked == [day(checked) if is_known else None]


@pytest.mark.parametrize(("since", "here"), [(55, True), (56, True), (57, False), (62, True)])
def test_a_proof_that_began_before_a_skull_came_in_is_none_of_it(since: int, *, here: bool) -> None:
    tub = fading_tub(62)
    doe = SoakingSkull(name="doe", species="deer", since=day(since))
    assert _were_here(replace(tub, skulls=(*tub.skulls, doe)), day(56), day(61)) is here


def test_water_that_refuted_a_proof_is_changed_for_the_next() -> None:
    tub, rule, felt = fading_tub(60, half_life=5.0), ClearRule(grease_left_share=0.3), day(57)
    advice = advise(tub, day(60), bones=(bone(0.0),), rule=rule, checked_at=felt, cost=CHEAP)
    assert [one.verdict for one in advice.skulls] == [DoneVerdict.PROVE]
    assert advice.fit is not None
    backing = backing_of(advice.fit, tub, rule, checked_at=felt)
    assert _is_left_alone(advice.skulls, backing)
    assert not _is_left_alone(advice.skulls, replace(backing, refuted=True))


@pytest.mark.parametrize(
    ("share", "looked_until", "done", "change"),
    [
        (
            0.3,
            58,
            (DoneVerdict.PROVE_APART, DoneVerdict.YELLOW_PATCHES),
            ChangeVerdict.CHANGE,
        ),
        (0.0, 58, (DoneVerdict.PROVE, DoneVerdict.PROVE), ChangeVerdict.ENOUGH),
        (0.0, 30, (DoneVerdict.PROVE, DoneVerdict.LOOK_AT_BONE), ChangeVerdict.ENOUGH),
    ],
)
def test_no_proof_is_asked_for_beside_a_skull_that_soaks_on(
    share: float, looked_until: int, done: tuple[DoneVerdict, ...], change: ChangeVerdict
) -> None:
    tub = fading_tub(60, half_life=5.0)
    doe = SoakingSkull(name="doe", species="deer", since=START)
    advice = advise(
        replace(tub, skulls=(*tub.skulls, doe)),
        day(60),
        bones=(bone(0.0), bone(share, looked_until, "doe")),
        rule=ClearRule(grease_left_share=0.3),
        checked_at=day(57),
        cost=CHEAP,
    )
    assert tuple(one.verdict for one in advice.skulls) == done
    assert advice.change.verdict is change
    assert [one.withheld is None for one in advice.skulls if one.name == "buck"] == [False]


def test_no_date_of_a_tub_stands_while_one_of_its_skulls_has_none() -> None:
    found = samples.advice()
    [one] = found.skulls
    other = replace(one, name="other", withheld=ReasonCode.SLOW, probability_degreased=1e-4)
    for skulls in ((one, other), (other, one)):
        both = replace(found, skulls=skulls)
        assert both.withheld is ReasonCode.SLOW
        assert both.degreased is None
        assert both.runs_clear is None
        assert set(both.skull_dates) == {one.name}
        assert both.probability_degreased_now == 1e-4
    without = replace(found, skulls=(replace(one, withheld=ReasonCode.SLOW),))
    assert without.skull_dates == {}


def test_looks_are_moved_on_by_as_much_as_the_last_of_them_is_old() -> None:
    """A look after the day asked about is none yet."""
    seen = SkullBone(
        name="buck", looks=tuple(BoneLook(at=day(at), yi_e313=20.0) for at in (2, 8, 30))
    )
    for filled, moved in ((5, [14, 20]), (12, [10, 16])):
        [bone_then] = _as_of_this_water([seen], day(filled), day(20))
        assert [look.at for look in bone_then.looks] == [day(at) for at in moved]
