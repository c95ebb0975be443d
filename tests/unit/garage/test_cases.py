"""What the logbook tells of skulls after their soaks: where they stand, and how they looked."""

from __future__ import annotations

from math import log2, sqrt

import pytest

from greasecheck.garage.risk.cases import SkullCase, Standing, skull_cases
from greasecheck.garage.risk.risk import Lessons, learn
from greasecheck.garage.soaks.past import past_soaks
from greasecheck.logbook.readings.readings import enter_by_hand
from greasecheck.logbook.records import FollowUp, HandReading, Tub
from greasecheck.logbook.skulls.skulls import enter_follow_up
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub
from greasecheck.model import BoneState, Recipe
from greasecheck.predict.tables import species_range
from greasecheck.predict.yellowing.records import Look
from greasecheck.stages import EventKind
from tests.logbook_samples import day
from tests.skull_log import happen, put_in


def did(book: Logbook, name: str, kind: EventKind, at: float, tub: int | None = None) -> None:
    happen(book, name, kind, day(at), tub)


def looked(book: Logbook, at: float, yi_e313: float, state: BoneState = BoneState.DRY) -> None:
    reading = HandReading(
        tub=1, taken_at=day(at), bone_yi_e313=yi_e313, bone_state=state, skull="ann"
    )
    enter_by_hand(book, reading)


def case(book: Logbook, name: str = "ann", now: float = -1) -> SkullCase:
    """Return the last case of a skull."""
    found = skull_cases(book, past_soaks(book, day(now)), day(now), {})
    return [one for one in found if one.known.name == name][-1]


@pytest.fixture
def book(book: Logbook) -> Logbook:
    """Ann, out after 30 days and white a day later; Bob, entered while Ann soaks, goes on."""
    for tub, name, since in ((1, "ann", -200), (2, "bob", -190)):
        enter_tub(book, Tub(number=tub))
        change_water(book, [tub], day(-200), Filling(recipe=Recipe.SOAP))
        put_in(book, name, day(since), tub, species="fox")
    did(book, "ann", EventKind.DEGREASED, -170)
    did(book, "ann", EventKind.WHITENED, -169)
    return book


def test_a_soak_lasts_until_its_own_skull_comes_out(book: Logbook) -> None:
    usual = species_range("fox")
    for now, days in ((-1, 30), (-185, 15)):
        soak = case(book, now=now).known.signs.log2_soak_over_usual
        assert soak is not None
        assert soak.value == pytest.approx(log2(days / sqrt(usual.low_days * usual.high_days)))


def test_where_a_skull_stands(book: Logbook) -> None:
    told = [case(book, now=now).standing for now in (-171, -169.5, -168)]
    assert told == [Standing.SOAKING, Standing.DEGREASED, Standing.WHITENED]
    assert case(book, "bob").standing is Standing.SOAKING
    did(book, "ann", EventKind.RETURNED, -150)
    assert case(book).standing is Standing.RETURNED
    enter_follow_up(book, FollowUp(skull="ann", seen_at=day(-120), yellowed=True))
    assert case(book).standing is Standing.YELLOWED
    assert case(book, now=-121).standing is Standing.RETURNED


def test_a_skull_that_came_back_and_was_whitened_again_is_at_hand(book: Logbook) -> None:
    did(book, "ann", EventKind.RETURNED, -150)
    did(book, "ann", EventKind.WHITENED, -100)
    assert case(book).standing is Standing.WHITENED
    assert [one.name for one in lessons(book).photos] == ["ann"]


def test_yellowness_rises_from_the_first_look_after_whitening_in_one_state(book: Logbook) -> None:
    looked(book, -180, 30.0)
    looked(book, -165, 10.0)
    looked(book, -129, 18.0)
    looked(book, -128, 40.0, BoneState.WET)
    assert case(book).known.looks == (Look(days=40, yellowed=False, yi_rise=8.0),)
    assert case(book).standing is Standing.YELLOWED  # it rose by more than counts as yellowed
    assert case(book, now=-130).standing is Standing.WHITENED


def test_without_a_look_soon_after_whitening_nothing_is_compared(book: Logbook) -> None:
    looked(book, -150, 10.0)
    looked(book, -129, 30.0)
    enter_follow_up(book, FollowUp(skull="ann", seen_at=day(-120), yellowed=False, yi_e313=30.0))
    assert case(book).known.looks == (Look(days=49, yellowed=False, yi_rise=None),)


def test_a_follow_up_that_was_measured_is_compared_too(book: Logbook) -> None:
    looked(book, -160, 10.0)
    enter_follow_up(book, FollowUp(skull="ann", seen_at=day(-120), yellowed=False, yi_e313=13.0))
    assert case(book).known.looks == (Look(days=49, yellowed=False, yi_rise=3.0),)


def test_each_whitening_has_the_looks_and_the_resoaking_that_follow_it(book: Logbook) -> None:
    did(book, "ann", EventKind.RESOAKED, -168, tub=1)
    enter_follow_up(book, FollowUp(skull="ann", seen_at=day(-119), yellowed=True))
    did(book, "ann", EventKind.WHITENED, -100)
    enter_follow_up(book, FollowUp(skull="ann", seen_at=day(-60), yellowed=False))
    found = case(book)
    assert found.whitened_at == day(-100)
    assert [one.looks for one in (*found.earlier, found.known)] == [
        (Look(days=50, yellowed=True, yi_rise=None),),
        (Look(days=40, yellowed=False, yi_rise=None),),
    ]
    resoaked = [one.signs.resoaked_after_whitening for one in (*found.earlier, found.known)]
    assert [one and one.value for one in resoaked] == [1.0, 0.0]
    assert found.standing is Standing.WHITENED


def lessons(book: Logbook) -> Lessons:
    return learn(book, past_soaks(book, day(-1)), day(-1), {})


def test_a_whitening_before_teaches_as_the_last_does(book: Logbook) -> None:
    enter_follow_up(book, FollowUp(skull="ann", seen_at=day(-119), yellowed=True))
    did(book, "ann", EventKind.WHITENED, -100)
    enter_follow_up(book, FollowUp(skull="ann", seen_at=day(-60), yellowed=False))
    found = lessons(book)
    assert (found.model.outcomes, found.model.yellowed) == (2, 1)
    assert [one.known.name for one in found.cases] == ["ann", "bob"]


def test_only_a_whitened_skull_at_hand_is_to_be_photographed(book: Logbook) -> None:
    assert [one.name for one in lessons(book).photos] == ["ann"]
    did(book, "ann", EventKind.RETURNED, -150)
    assert lessons(book).photos == ()


def test_a_skull_that_soaked_again_is_one_case_by_its_last_soak(book: Logbook) -> None:
    did(book, "ann", EventKind.DRIED, -160)
    did(book, "ann", EventKind.RESOAKED, -150, tub=1)
    found = lessons(book)
    assert [one.known.name for one in found.cases] == ["ann", "bob"]
    assert found.cases[0].standing is Standing.SOAKING
    assert len(skull_cases(book, past_soaks(book, day(-1)), day(-1), {})) == 3
