"""Kept answers: what makes them stale, one worker for each, how far back changes are sought."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import pytest

from greasecheck.logbook import answers
from greasecheck.logbook.answers import (
    KeptAnswer,
    answer_keys,
    claim,
    keep_answer,
    read_answers,
    release,
)
from greasecheck.logbook.readings.readings import enter_by_hand
from greasecheck.logbook.records import (
    BathTemperature,
    HandReading,
    SkullEvent,
    ToppedUp,
    Tub,
)
from greasecheck.logbook.skulls.skulls import enter_event
from greasecheck.logbook.water.baths import Filling, change_water, dump_water, enter_tub
from greasecheck.logbook.water.between import enter_temperature, enter_top_up
from greasecheck.model import Recipe
from greasecheck.stages import EventKind
from tests.logbook_samples import day
from tests.skull_log import happen, put_in

if TYPE_CHECKING:
    from collections.abc import Callable

    from greasecheck.logbook.store.book import Logbook


def fox(book: Logbook, tub: int) -> None:
    enter_tub(book, Tub(number=tub))
    put_in(book, "fox", day(0), tub, species="fox")


@pytest.mark.parametrize("tub", [1, 12])
def test_a_skull_that_is_done_makes_all_answers_stale(book: Logbook, tub: int) -> None:
    fox(book, tub)
    enter_tub(book, Tub(number=14))
    before = answer_keys(book, (tub, 14, 99), "model")
    happen(book, "fox", EventKind.DEGREASED, day(1))
    after = answer_keys(book, (tub, 14, 99), "model")
    assert all(after[number] != before[number] for number in (tub, 14, 99))


def test_what_happens_in_one_tub_leaves_the_others_fresh(book: Logbook) -> None:
    fox(book, 1)
    enter_tub(book, Tub(number=2))
    enter_tub(book, Tub(number=14))
    before = answer_keys(book, (1, 14), "model")
    moved = SkullEvent(skull="fox", happened_at=day(1), kind=EventKind.MOVED, tub=2)
    enter_event(book, moved)
    after = answer_keys(book, (1, 14), "model")
    assert after[1] != before[1]
    assert after[14] == before[14]
    assert answer_keys(book, (14,), "other")[14] != after[14]


LATER: dict[str, Callable[[Logbook], object]] = {
    "reading": lambda book: enter_by_hand(
        book, HandReading(tub=1, taken_at=day(5), attenuation_per_m=4.0, attenuation_std_per_m=0.2)
    ),
    "bath": lambda book: change_water(book, [1], day(5), Filling()),
    "emptied": lambda book: dump_water(book, [1], day(5)),
    "checked": lambda book: enter_tub(book, Tub(number=1, checked_at=day(5))),
    "temperature": lambda book: enter_temperature(
        book, BathTemperature(tub=1, at=day(5), temperature_c=38.0)
    ),
    "top-up": lambda book: enter_top_up(book, ToppedUp(tub=1, at=day(5), litres=3.0)),
    "moved": lambda book: enter_event(
        book, SkullEvent(skull="fox", happened_at=day(5), kind=EventKind.MOVED, tub=2)
    ),
    "degreased": lambda book: enter_event(
        book, SkullEvent(skull="fox", happened_at=day(5), kind=EventKind.DEGREASED)
    ),
}


@pytest.mark.parametrize("enter", LATER.values(), ids=LATER)
def test_an_answer_that_leaves_a_later_entry_out_is_not_kept(
    book: Logbook, enter: Callable[[Logbook], object]
) -> None:
    fox(book, 1)
    enter_tub(book, Tub(number=1, volume_l=60.0))
    enter_tub(book, Tub(number=2))
    change_water(book, [1], day(0), Filling(recipe=Recipe.SOAP))
    enter(book)
    for made_at, is_kept in ((day(4), False), (day(6), True)):
        key = answer_keys(book, (1,), "model")[1]
        keep_answer(
            book, KeptAnswer(tub=1, key=key, made_at=made_at, good_until=day(9), brief="{}"), None
        )
        assert (1 in read_answers(book)) is is_kept


def test_a_claim_holds_until_it_is_released_or_five_minutes_old(
    book: Logbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    enter_tub(book, Tub(number=12))
    times = {"now": day(0)}
    monkeypatch.setattr(answers, "now", lambda: times["now"])
    assert claim(book, 12)
    times["now"] = day(0) + timedelta(minutes=4.9)
    assert not claim(book, 12)
    assert claim(book, 14)
    times["now"] = day(0) + timedelta(minutes=5.1)
    assert claim(book, 12)
    release(book, 12)
    assert claim(book, 12)
