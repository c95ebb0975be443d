from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from greasecheck.errors import LogbookError
from greasecheck.logbook.readings.readings import enter_by_hand, insert_reading
from greasecheck.logbook.records import FollowUp, HandReading, Skull, SkullEvent, Tub, WeightClass
from greasecheck.logbook.skulls.skulls import (
    correct_event,
    enter_event,
    enter_follow_up,
    enter_skull,
    follow_ups,
    list_skulls,
    skull_named,
)
from greasecheck.logbook.skulls.stays import (
    every_event,
    skull_events,
    skulls_in,
    soaking,
    stays_among,
)
from greasecheck.logbook.store.tables import SKULL_EVENTS
from greasecheck.logbook.store.times import to_text
from greasecheck.logbook.story import skull_story, with_changes_counted
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub
from greasecheck.model import Bound, Recipe
from greasecheck.stages import EventKind
from tests.logbook_samples import day, make_reading
from tests.skull_log import happen

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook


def event(kind: EventKind, at: float, tub: int | None = None, name: str = "fox") -> SkullEvent:
    return SkullEvent(skull=name, happened_at=day(at), kind=kind, tub=tub)


@pytest.fixture
def fox(book: Logbook) -> Logbook:
    for number in (12, 14):
        enter_tub(book, Tub(number=number))
    enter_skull(book, Skull(name="fox", species="fox"), event(EventKind.ENTERED, 0, 12))
    return book


def test_a_skull_is_entered_and_added_to(fox: Logbook) -> None:
    enter_skull(fox, Skull(name="fox", weight_class=WeightClass.LIGHT))
    expected = Skull(name="fox", species="fox", weight_class=WeightClass.LIGHT)
    assert list_skulls(fox) == (expected,)
    assert skull_named(fox, "fox") == expected


def test_a_moved_skull_goes_on_soaking(fox: Logbook) -> None:
    enter_event(fox, event(EventKind.MOVED, 10, 14))
    (stay,) = soaking(fox)
    assert (stay.tub, stay.since, stay.soak_since) == (14, day(10), day(0))
    enter_event(fox, event(EventKind.DEGREASED, 30))
    assert soaking(fox) == ()
    enter_event(fox, event(EventKind.RESOAKED, 40, 12))
    found = stays_among(every_event(fox))
    assert [(stay.tub, stay.until, stay.soak_since) for stay in found] == [
        (12, day(10), day(0)),
        (14, day(30), day(0)),
        (12, None, day(40)),
    ]


def test_no_entry_and_no_correction_moves_a_skull_to_where_it_lies(fox: Logbook) -> None:
    with pytest.raises(LogbookError, match="lies in tub 12 by then already"):
        enter_event(fox, event(EventKind.MOVED, 5, 12))
    enter_event(fox, event(EventKind.MOVED, 10, 14))
    with pytest.raises(LogbookError, match="lies in tub 12 by then already"):
        correct_event(fox, event(EventKind.MOVED, 10, 12), day(10))
    with pytest.raises(LogbookError, match="is entered as moved to tub 14 only on 11 Mar 2026"):
        enter_event(fox, event(EventKind.MOVED, 5, 14))
    assert [one.tub for one in skull_events(fox, "fox")] == [12, 14]
    correct_event(fox, event(EventKind.MOVED, 5, 14), day(10))
    enter_event(fox, event(EventKind.MOVED, 5 + 1 / 86_400, 12))
    assert [stay.tub for stay in soaking(fox)] == [12]


def test_stays_of_two_skulls_do_not_mix(fox: Logbook) -> None:
    enter_skull(fox, Skull(name="roe"), event(EventKind.ENTERED, 5, 12, "roe"))
    enter_event(fox, event(EventKind.DEGREASED, 20))
    assert [stay.skull for stay in soaking(fox)] == ["roe"]


@pytest.mark.parametrize(
    ("wrong", "problem"),
    [
        (event(EventKind.MOVED, 3), "into which tub"),
        (event(EventKind.MOVED, 3, 99), "tub 99 is not in the logbook"),
        (event(EventKind.ENTERED, 0, 12), "entered already"),
        (event(EventKind.WHITENED, 3), "how strongly and how long"),
        (event(EventKind.DRIED, 3, name="wolf"), "no skull is called 'wolf'"),
        (event(EventKind.DRIED, 90000), "future"),
    ],
)
def test_an_impossible_event_is_refused(fox: Logbook, wrong: SkullEvent, problem: str) -> None:
    with pytest.raises(LogbookError, match=problem):
        enter_event(fox, wrong)


def test_an_unknown_skull_is_told(fox: Logbook) -> None:
    with pytest.raises(LogbookError, match="no skull is called 'wolf'"):
        skull_named(fox, "wolf")


@pytest.mark.parametrize(("strength", "hours"), [(None, 24.0), (3.0, None)])
def test_a_whitening_has_its_strength_and_its_hours(
    fox: Logbook, strength: float | None, hours: float | None
) -> None:
    enter_event(fox, event(EventKind.DEGREASED, 1))
    whitened = replace(event(EventKind.WHITENED, 2), strength_percent=strength, duration_h=hours)
    with pytest.raises(LogbookError, match="how strongly and how long"):
        enter_event(fox, whitened)


def test_a_skull_that_never_soaked_here_may_be_looked_at(fox: Logbook) -> None:
    """It may have come from another preparer."""
    enter_skull(fox, Skull(name="gift"))
    look = FollowUp(skull="gift", seen_at=day(3), yellowed=False)
    enter_follow_up(fox, look)
    assert follow_ups(fox, "gift") == (look,)


def test_a_corrected_event_need_not_follow_on_what_it_was_before(fox: Logbook) -> None:
    """Dried on day 5 in truth: what was entered for day 9 is not in its way."""
    for kind, at in ((EventKind.DEGREASED, 2), (EventKind.DRIED, 9)):
        happen(fox, "fox", kind, day(at))
    correct_event(fox, event(EventKind.DRIED, 5), near=day(9))
    assert [one.happened_at for one in skull_events(fox, "fox")] == [day(0), day(2), day(5)]


@pytest.mark.parametrize(
    ("kind", "at"), [(EventKind.ENTERED, 3), (EventKind.DEGREASED, 10), (EventKind.DRIED, 1)]
)
def test_a_date_is_not_corrected_past_what_rests_on_it(
    fox: Logbook, kind: EventKind, at: int
) -> None:
    for after, day_after in ((EventKind.DEGREASED, 2), (EventKind.DRIED, 9)):
        happen(fox, "fox", after, day(day_after))
    (wrong,) = (one for one in skull_events(fox, "fox") if one.kind is kind)
    with pytest.raises(LogbookError, match="cannot follow"):
        correct_event(fox, event(kind, at), near=wrong.happened_at)
    assert wrong in skull_events(fox, "fox")


def test_events_that_were_out_of_order_before_are_in_nobodys_way(fox: Logbook) -> None:
    """As an import may bring them: dried before it was degreased."""
    with fox.entry("as an import") as entry:
        for kind, at in ((EventKind.DRIED, 1), (EventKind.DEGREASED, 2)):
            row = {"skull": "fox", "happened_at": to_text(day(at)), "kind": kind.value}
            entry.insert(SKULL_EVENTS, row)
    happen(fox, "fox", EventKind.RETURNED, day(9))
    assert skull_events(fox, "fox")[-1].kind is EventKind.RETURNED


def test_a_follow_up_is_entered_once(fox: Logbook) -> None:
    enter_event(fox, event(EventKind.DEGREASED, 50))
    seen = FollowUp(skull="fox", seen_at=day(60), yellowed=True, yi_e313=33.0)
    enter_follow_up(fox, seen)
    with pytest.raises(LogbookError, match="entered already"):
        enter_follow_up(fox, seen)


def test_the_story_tells_all_that_concerned_the_skull_in_order(fox: Logbook) -> None:
    change_water(fox, [12, 14], day(-1), Filling(recipe=Recipe.SOAP))
    change_water(fox, [12], day(1), Filling(temperature_c=40.0))
    with fox.entry("readings") as entry:
        insert_reading(entry, make_reading("mine", at=day(2)), 12, None)
        insert_reading(entry, make_reading("named", at=day(25), haze_per_m=None), 14, "fox")
        insert_reading(entry, make_reading("later", at=day(3), bone=False), 14, None)
    enter_event(fox, event(EventKind.DEGREASED, 19))
    enter_event(
        fox,
        SkullEvent(
            skull="fox",
            happened_at=day(20),
            kind=EventKind.WHITENED,
            strength_percent=3.0,
            duration_h=24.0,
            note="twice",
        ),
    )
    enter_follow_up(fox, FollowUp(skull="fox", seen_at=day(60), yellowed=True, yi_e313=33.0))
    enter_follow_up(fox, FollowUp(skull="fox", seen_at=day(90), yellowed=False))
    assert [moment.what for moment in skull_story(fox, "fox")] == [
        "entered into tub 12",
        "water changed: soap at 40 °C",
        "haze 12.5 ± 0.4 /m, bone YI 27.5 ± 0.6",
        "degreased",
        "whitened 3% for 24 h; twice",
        "bone YI 27.5 ± 0.6",
        "follow-up: yellowed, bone YI 33.0",
        "follow-up: still white",
    ]


def test_water_changes_alike_that_follow_each_other_are_counted(fox: Logbook) -> None:
    for number, recipe in enumerate([Recipe.SOAP] * 3 + [Recipe.AMMONIA, Recipe.SOAP]):
        change_water(fox, [12], day(1 + number), Filling(recipe=recipe))
    entered, *told = with_changes_counted(skull_story(fox, "fox"))
    assert entered.what == "entered into tub 12"
    assert [(one.at, one.until, one.what) for one in told] == [
        (day(1), day(3), "water changed: soap, 3 times"),
        (day(4), None, "water changed: ammonia"),
        (day(5), None, "water changed: soap"),
    ]


def test_a_bound_is_told_as_one(fox: Logbook) -> None:
    for at, bound in ((1, Bound.ABOVE), (2, Bound.BELOW)):
        enter_by_hand(
            fox,
            HandReading(
                tub=12,
                taken_at=day(at),
                attenuation_per_m=70.0,
                attenuation_std_per_m=0.0,
                bound=bound,
            ),
        )
    words = [moment.what for moment in skull_story(fox, "fox")]
    assert words[1:] == ["haze >70.0 /m", "haze <70.0 /m"]


def test_a_skull_lies_in_a_tub_from_its_entry_to_its_move(fox: Logbook) -> None:
    enter_event(fox, event(EventKind.MOVED, 5, 14))
    there = {tub: [at for at in range(-1, 8) if skulls_in(fox, tub, day(at))] for tub in (12, 14)}
    assert there == {12: [0, 1, 2, 3, 4, 5], 14: [5, 6, 7]}
