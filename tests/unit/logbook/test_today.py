from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from greasecheck.logbook.answers import KeptAnswer, keep_answer
from greasecheck.logbook.readings.photos import LogSettings, log_photos
from greasecheck.logbook.readings.readings import enter_by_hand, insert_reading
from greasecheck.logbook.records import HandReading, ProbableChange, Skull, SkullEvent, Tub
from greasecheck.logbook.skulls.skulls import enter_skull
from greasecheck.logbook.today import Ask, TubToday, garage_today
from greasecheck.logbook.water.baths import Filling, change_water, dump_water, enter_tub
from greasecheck.model import Bound, Recipe, Verdict
from greasecheck.stages import EventKind
from tests.logbook_samples import day, make_reading, measure_files, write_photos
from tests.skull_log import happen, put_in

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.logbook.store.book import Logbook

SOAP = Filling(recipe=Recipe.SOAP)


@pytest.fixture
def filled(book: Logbook) -> Logbook:
    enter_tub(book, Tub(number=12, name="door"))
    change_water(book, [12], day(0), SOAP)
    return book


def add(book: Logbook, at: float, haze: float, bound: Bound | None = None) -> None:
    enter_by_hand(
        book,
        HandReading(
            tub=12,
            taken_at=day(at),
            attenuation_per_m=haze,
            attenuation_std_per_m=0.2,
            bound=bound,
        ),
    )


def look(book: Logbook, at: float) -> TubToday:
    (one,) = garage_today(book, day(at))
    return one


def test_a_tub_in_order_asks_for_nothing(filled: Logbook) -> None:
    for at in (0.5, 1.5, 2.5):
        add(filled, at, 5.0 + 2.0 * at)
    one = look(filled, 3)
    assert one.asks == ()
    assert one.trend_per_m_per_day == pytest.approx(2.0)
    assert one.haze is not None
    assert one.haze.taken_at == day(2.5)
    assert one.bath is not None
    assert one.bath.filled_at == day(0)


def test_the_trend_is_of_the_present_bath_and_its_last_week(filled: Logbook) -> None:
    for at in range(12):
        add(filled, at + 0.5, 30.0 if at < 4 else 30.0 + at)
    assert look(filled, 12).trend_per_m_per_day == pytest.approx(1.0)
    change_water(filled, [12], day(12), SOAP)
    assert look(filled, 13).trend_per_m_per_day is None
    add(filled, 13, 8.0)
    assert look(filled, 13).trend_per_m_per_day is None
    add(filled, 14, 11.0)
    assert look(filled, 14).trend_per_m_per_day == pytest.approx(3.0)


@pytest.mark.parametrize(
    ("apart", "rise", "told"),
    [
        (0.25, 0.5, None),  # 2 a day, from readings whose errors alone make 1.1 a day
        (0.25, 1.0, 4.0),
        (1.0, 0.0, None),  # it may rise by half a unit a day as well
        (3.0, 0.0, 0.0),
    ],
)
def test_a_trend_is_told_where_the_errors_of_the_readings_leave_it_sure(
    filled: Logbook, apart: float, rise: float, told: float | None
) -> None:
    add(filled, 1, 5.0)
    add(filled, 1 + apart, 5.0 + rise)
    assert look(filled, 5).trend_per_m_per_day == (None if told is None else pytest.approx(told))


def test_bounds_have_no_trend(filled: Logbook) -> None:
    for at in (1, 2):
        add(filled, at, 70.0, Bound.ABOVE)
    one = look(filled, 2)
    assert one.trend_per_m_per_day is None
    assert one.asks == (Ask.DILUTE,)


def test_a_photo_is_due_after_three_days(filled: Logbook) -> None:
    assert look(filled, 2.9).asks == ()
    assert look(filled, 3.1).asks == (Ask.TAKE_PHOTO,)
    add(filled, 2, 8.0)
    assert look(filled, 4.9).asks == ()
    assert look(filled, 5.1).asks == (Ask.TAKE_PHOTO,)


def test_a_tub_in_which_a_skull_only_rinses_needs_no_photo(filled: Logbook) -> None:
    put_in(filled, "fox", day(0), 12)
    happen(filled, "fox", EventKind.DEGREASED, day(1))
    happen(filled, "fox", EventKind.WHITENED, day(2))
    happen(filled, "fox", EventKind.RESOAKED, day(3), 12)
    assert look(filled, 9).asks == ()
    put_in(filled, "deer", day(3), 12)
    assert look(filled, 9).asks == (Ask.TAKE_PHOTO,)


def test_an_emptied_tub_asks_for_no_bath_until_it_is_read_again(filled: Logbook) -> None:
    add(filled, 1, 5.0)
    dump_water(filled, [12], day(2))
    assert look(filled, 9).asks == ()
    add(filled, 3, 5.0)
    assert look(filled, 9).asks == (Ask.ENTER_BATH,)


def test_an_old_photo_of_a_tub_that_stands_empty_asks_for_nothing(filled: Logbook) -> None:
    enter_by_hand(
        filled,
        HandReading(
            tub=99,
            taken_at=day(2),
            attenuation_per_m=70.0,
            attenuation_std_per_m=0.2,
            bound=Bound.ABOVE,
        ),
    )
    enter_tub(filled, Tub(number=99, name="a number that was read wrongly"))
    asks = [garage_today(filled, day(at), 99)[0].asks for at in (31, 33)]
    assert asks == [(Ask.ENTER_BATH, Ask.DILUTE), ()]
    doubtful = make_reading(at=day(1), verdict=Verdict.DOUBTFUL)
    with filled.entry("reading") as entry:
        insert_reading(entry, doubtful, 12, None)
    dump_water(filled, [12], day(2))
    assert garage_today(filled, day(3), 12)[0].asks == ()


def test_an_old_reading_is_still_shown(filled: Logbook) -> None:
    add(filled, 2, 8.0)
    one = look(filled, 90)
    assert one.haze is not None
    assert one.asks == (Ask.TAKE_PHOTO,)


def test_a_probable_change_asks_to_be_confirmed(filled: Logbook) -> None:
    add(filled, 1, 20.0)
    add(filled, 2, 3.0)
    one = look(filled, 2)
    assert one.asks == (Ask.CONFIRM_CHANGE,)
    assert [change.latest for change in one.unentered] == [day(2)]


def test_each_change_that_nobody_entered_is_asked_about_the_oldest_first(
    filled: Logbook,
) -> None:
    for at, haze in ((1, 20.0), (2, 3.0), (6, 22.0), (7, 4.0)):
        add(filled, at, haze)
    assert [change.latest for change in look(filled, 7).unentered] == [day(2), day(7)]


def test_a_change_of_a_soak_that_its_fit_found_is_asked_about_however_old(
    filled: Logbook,
) -> None:
    for at, haze in ((1, 20.0), (2, 3.0), (50, 22.0), (51, 21.0)):
        add(filled, at, haze)
    found = ProbableChange(
        tub=12, earliest=day(1), latest=day(2), before_per_m=20.0, after_per_m=3.0
    )
    kept = KeptAnswer(
        tub=12, key="", made_at=day(51), good_until=day(52), brief="", unlogged=(found,)
    )
    keep_answer(filled, kept, None)
    assert look(filled, 51).unentered == ()
    soak = SkullEvent(skull="fox 3", happened_at=day(0), kind=EventKind.ENTERED, tub=12)
    enter_skull(filled, Skull(name="fox 3"), soak)
    assert look(filled, 51).unentered == (found,)


def test_a_change_seen_by_the_last_readings_is_asked_however_long_ago(filled: Logbook) -> None:
    for at, haze in ((1, 20.0), (2, 3.0), (3, 3.5)):
        add(filled, at, haze)
    late = look(filled, 200)
    assert Ask.CONFIRM_CHANGE in late.asks
    assert late.trend_per_m_per_day is None
    for at in (40, 41):
        add(filled, at, 3.0)
    assert Ask.CONFIRM_CHANGE not in look(filled, 42).asks


def test_a_tub_with_readings_but_no_bath_asks_for_it(book: Logbook) -> None:
    enter_tub(book, Tub(number=12, name="door"))
    assert look(book, 1).asks == ()
    add(book, 1, 5.0)
    assert look(book, 9).asks == (Ask.ENTER_BATH,)


def test_a_soak_that_lies_ahead_is_not_told(filled: Logbook) -> None:
    entered = SkullEvent(skull="deer", happened_at=day(3), kind=EventKind.ENTERED, tub=12)
    enter_skull(filled, Skull(name="deer"), entered)
    assert look(filled, 4).soak_since == day(3)
    assert look(filled, 1).soak_since is None


def test_an_unnamed_tub_asks_for_a_name(book: Logbook) -> None:
    add(book, 1, 5.0)
    assert look(book, 1).asks == (Ask.ENTER_BATH, Ask.NAME_TUB)
    enter_tub(book, Tub(number=12, volume_l=60.0))
    assert look(book, 1).asks == (Ask.ENTER_BATH,)


def test_a_doubtful_reading_asks_for_another(filled: Logbook) -> None:
    reading = make_reading(at=day(1), verdict=Verdict.DOUBTFUL)
    with filled.entry("reading") as entry:
        insert_reading(entry, reading, 12, None)
    assert look(filled, 1).asks == (Ask.RETAKE_PHOTO,)


def test_a_refused_photo_asks_for_another_until_a_reading_comes(
    book: Logbook, tmp_path: Path
) -> None:
    enter_tub(book, Tub(number=10, name="door"))
    (path,) = write_photos(tmp_path / "photos", 1, refused_every=1)
    list(log_photos(book, [path], measure_files, LogSettings()))
    assert look(book, 1).asks == (Ask.RETAKE_PHOTO,)
    assert look(book, -3).asks == ()  # the photo was not taken yet
    assert look(book, 31).asks == ()  # an old one of a tub that stands empty
    later = make_reading("later", at=day(0.5), tub=10)
    with book.entry("reading") as entry:
        insert_reading(entry, later, 10, None)
    change_water(book, [10], day(0), SOAP)
    assert look(book, 1).asks == ()


def test_skulls_and_the_bone_of_the_present_soak_are_shown(filled: Logbook) -> None:
    with filled.entry("reading") as entry:
        insert_reading(entry, make_reading("before", at=day(1)), 12, None)
    event = SkullEvent(skull="fox", happened_at=day(2), kind=EventKind.ENTERED, tub=12)
    enter_skull(filled, Skull(name="fox"), event)
    one = look(filled, 3)
    assert (one.skulls, one.soak_since, one.bone) == (("fox",), day(2), None)
    with filled.entry("reading") as entry:
        insert_reading(entry, make_reading("after", at=day(2.5)), 12, None)
    bone = look(filled, 3).bone
    assert bone is not None
    assert bone.taken_at == day(2.5)


def test_a_reading_of_a_later_day_is_not_known_yet(filled: Logbook) -> None:
    add(filled, 1.5, 6.0)
    add(filled, 9.0, 9.0)
    found = look(filled, 3).haze
    assert found is not None
    assert found.taken_at == day(1.5)
