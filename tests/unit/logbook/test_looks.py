"""Photos of one bone from several sides are one look."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from greasecheck.logbook.looks import join_looks
from greasecheck.logbook.records import LoggedReading
from greasecheck.model import BoneState, ReadingKind, Verdict
from tests.unit.report.season_samples import logged

START = datetime(2026, 3, 1, 18, tzinfo=UTC)


def side(
    minutes: float, yi_e313: float, area_mm2: float | None = 1000.0, share: float | None = 0.1
) -> LoggedReading:
    return replace(
        logged(haze=None),
        key=f"{minutes}",
        kind=ReadingKind.BONE,
        taken_at=START + timedelta(minutes=minutes),
        bone_yi_e313=yi_e313,
        bone_yi_std=1.5,
        bone_area_mm2=area_mm2,
        bone_yellow_patch_share=share,
        bone_state=BoneState.DRY,
    )


def test_sides_within_an_hour_are_one_look_weighted_by_area() -> None:
    (look,) = join_looks([side(0, 20.0, 3000.0, 0.0), side(20, 40.0, 1000.0, 0.4)])
    assert look.yi_e313 == pytest.approx(25.0)
    assert look.yellow_patch_share == pytest.approx(0.1)
    assert look.yellow_share_std == pytest.approx(0.03)
    assert look.worst.key == "20"
    assert len(look.sides) == 2


def test_the_spread_between_sides_is_part_of_the_error() -> None:
    (alike,) = join_looks([side(0, 20.0), side(5, 20.0)])
    (apart,) = join_looks([side(0, 17.0), side(5, 23.0)])
    assert alike.yi_std == pytest.approx(1.5)
    assert apart.yi_std == pytest.approx((1.5**2 + 3.0**2) ** 0.5)


def test_a_share_of_which_one_side_states_no_error_has_none() -> None:
    older = replace(side(5, 20.0), bone_yellow_share_std=None)
    (look,) = join_looks([side(0, 20.0), older])
    assert look.yellow_patch_share == pytest.approx(0.1)
    assert look.yellow_share_std is None


def test_the_next_hour_and_another_wetness_are_other_looks() -> None:
    wet = replace(side(10, 30.0), bone_state=BoneState.WET)
    assert len(join_looks([side(0, 20.0), wet])) == 2
    assert [len(one.sides) for one in join_looks([side(0, 20), side(60, 20), side(61, 20)])] == [
        2,
        1,
    ]


def test_doubtful_sides_yield_to_good_ones_and_one_photo_stays_as_it_is() -> None:
    doubtful = replace(side(3, 50.0), verdict=Verdict.DOUBTFUL)
    (look,) = join_looks([side(0, 20.0), doubtful])
    assert (look.yi_e313, look.yi_std, look.verdict) == (20.0, 1.5, Verdict.GOOD)
    (alone,) = join_looks([doubtful])
    assert alone.verdict is Verdict.DOUBTFUL


def test_readings_without_area_or_share_still_join() -> None:
    (look,) = join_looks([side(0, 20.0, None, None), side(1, 30.0, None)])
    assert (look.yi_e313, look.yellow_patch_share) == (25.0, None)
    assert join_looks([replace(side(0, 1.0), bone_yi_e313=None)]) == ()
