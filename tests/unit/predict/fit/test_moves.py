"""A skull that moves alone takes its story with it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.predict.fit import tub_fit
from greasecheck.predict.fit.moves import joined
from greasecheck.predict.fit.tub_fit import TubFit, fit_tub
from greasecheck.predict.records import (
    EarlierSoak,
    SameWater,
    SoakingSkull,
    TemperatureRecord,
    TopUp,
    TubHistory,
    WaterChange,
)
from tests.unit.predict.tubs import day, reading

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.predict.records import FinishedTub

FOX = SoakingSkull(name="fox", species="fox", since=day(0))


def first_tub(volume_l: float | None = 10.0) -> TubHistory:
    return TubHistory(
        skulls=(FOX,),
        changes=(WaterChange(at=day(0)), WaterChange(at=day(4)), WaterChange(at=day(12))),
        readings=(reading(3, 8.0), reading(10, 6.0), reading(11, 5.0)),
        temperatures=(TemperatureRecord(at=day(2), temperature_c=35.0),),
        top_ups=(TopUp(at=day(3.5), share=0.1),),
        volume_l=volume_l,
    )


def second_tub(volume_l: float | None = 20.0, carry_over: float | None = None) -> TubHistory:
    moved = replace(FOX, since=day(10), earlier=(EarlierSoak(tub=first_tub(), until=day(10)),))
    return TubHistory(
        skulls=(moved,),
        changes=(WaterChange(at=day(10), carry_over=carry_over), WaterChange(at=day(13))),
        readings=(reading(12, 4.0),),
        volume_l=volume_l,
    )


def test_haze_of_half_the_water_counts_half_in_the_double() -> None:
    story = joined(second_tub())
    assert [one.attenuation_per_m for one in story.readings] == pytest.approx([4.0, 3.0, 4.0])
    own = [reading(3, 8.0), reading(10, 6.0), reading(12, 4.0)]
    stds = [own[0].std_per_m / 2, own[1].std_per_m / 2, own[2].std_per_m]
    assert [one.std_per_m for one in story.readings] == pytest.approx(stds)
    unknown = joined(second_tub(volume_l=None))
    assert [one.attenuation_per_m for one in unknown.readings] == pytest.approx([8.0, 6.0, 4.0])


def test_the_move_is_a_change_to_water_without_haze() -> None:
    story = joined(second_tub())
    assert [(one.at, one.carry_over) for one in story.changes] == [
        (day(0), None),
        (day(4), None),
        (day(10), 0.0),
        (day(13), None),
    ]
    logged = joined(second_tub(carry_over=0.2))
    assert logged.changes[2].carry_over is None  # of the second tub's own water, not of the first's
    assert joined(second_tub(carry_over=0.0)).changes[2].carry_over == 0.0
    assert story.skulls == (FOX,)
    assert [one.at for one in story.temperatures] == [day(2)]
    assert [one.at for one in story.top_ups] == [day(3.5)]


def test_of_two_earlier_tubs_each_is_put_in_front_of_the_next() -> None:
    """A skull's third tub: its story begins with the first, each tub's haze in its own volume."""
    middle = replace(
        second_tub(),
        skulls=(replace(FOX, since=day(10)),),
        same_water=(SameWater(after=day(11), before=day(12)),),
    )
    soaks = (
        EarlierSoak(tub=first_tub(), until=day(10)),
        EarlierSoak(tub=middle, until=day(14)),
    )
    last = TubHistory(
        skulls=(replace(FOX, since=day(14), earlier=soaks),),
        changes=(WaterChange(at=day(14)),),
        readings=(reading(15, 3.0),),
        volume_l=40.0,
    )
    story = joined(last)
    assert story.skulls == (FOX,)
    assert [one.at for one in story.changes] == [day(n) for n in (0, 4, 10, 13, 14)]
    assert [one.carry_over for one in story.changes] == [None, None, 0.0, None, 0.0]
    # 10, 20 and 40 litres
    assert [one.attenuation_per_m for one in story.readings] == pytest.approx([2.0, 1.5, 2.0, 3.0])
    assert story.same_water == middle.same_water
    shared = replace(middle, skulls=(*middle.skulls, replace(FOX, name="hare")))
    partly = replace(soaks[1], tub=shared)
    mixed = replace(last, skulls=(replace(last.skulls[0], earlier=(soaks[0], partly)),))
    assert joined(mixed) is mixed
    nested = replace(second_tub().skulls[0], since=day(14))  # the second tub has the first in it
    through = EarlierSoak(tub=second_tub(), until=day(14))
    chained = replace(last, skulls=(replace(nested, earlier=(through,)),))
    assert joined(chained) is chained


def test_what_was_entered_at_the_move_itself_belongs_to_the_new_tub() -> None:
    """A first tub that was filled again as the skull left had that water without it."""
    refilled = replace(
        first_tub(),
        changes=(WaterChange(at=day(0)), WaterChange(at=day(10))),
        temperatures=(TemperatureRecord(at=day(10), temperature_c=20.0),),
    )
    moved = replace(FOX, since=day(10), earlier=(EarlierSoak(tub=refilled, until=day(10)),))
    story = joined(replace(second_tub(), skulls=(moved,)))
    assert [one.at for one in story.changes] == [day(0), day(10), day(13)]
    assert story.temperatures == ()


def test_a_skull_that_shared_a_tub_keeps_its_own_story() -> None:
    hare = replace(FOX, name="hare")
    shared = replace(first_tub(), skulls=(FOX, hare))
    moved = replace(FOX, since=day(10), earlier=(EarlierSoak(tub=shared, until=day(10)),))
    history = replace(second_tub(), skulls=(moved,))
    assert joined(history) is history
    two = replace(second_tub(), skulls=(*second_tub().skulls, hare))
    assert joined(two) is two


def test_a_skull_s_own_time_goes_on_from_the_tub_that_it_shared() -> None:
    bear = SoakingSkull(name="bear", species="bear", since=day(0))
    shared = replace(first_tub(), skulls=(bear, FOX))
    moved = replace(FOX, since=day(10), earlier=(EarlierSoak(tub=shared, until=day(10)),))
    fit = fit_tub(replace(second_tub(), skulls=(moved,)), day(14))
    before = fit_tub(shared, day(10))
    log_days = np.concatenate([drawn.log_done_days[1] for drawn in before.form_draws])
    (time,) = fit.done_times
    assert time.log_mean == pytest.approx(log_days.mean())
    assert time.scatter_log_std == pytest.approx(log_days.std())
    assert time.shared_log_std == 0


def test_the_tub_that_a_skull_came_from_is_fitted_once_until_its_rows_change(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    fitted: list[TubHistory] = []

    def watched(tub: TubHistory, until: datetime, *, finished: tuple[FinishedTub, ...]) -> TubFit:
        fitted.append(tub)
        return fit_tub(tub, until, finished=finished)

    monkeypatch.setattr(tub_fit, "fit_tub", watched)
    hare = replace(FOX, name="hare")
    shared = replace(first_tub(), skulls=(hare, FOX))
    corrected = replace(shared, readings=(reading(3, 9.0),))
    seen = []
    for earlier, now in ((shared, 12.5), (shared, 14), (corrected, 14)):
        moved = replace(FOX, since=day(10), earlier=(EarlierSoak(tub=earlier, until=day(10)),))
        seen.append(fit_tub(replace(second_tub(), skulls=(moved,)), day(now)).done_times)
    assert fitted == [shared, corrected]
    assert seen[0] == seen[1] != seen[2]
