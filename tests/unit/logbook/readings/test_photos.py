from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest

from greasecheck.errors import LogbookError
from greasecheck.logbook.readings.checks import checks_of
from greasecheck.logbook.readings.corrections import corrections_of, mark_wrong
from greasecheck.logbook.readings.drawings import drawn_by_photo
from greasecheck.logbook.readings.photos import Logged, LogSettings, Outcome, log_photos
from greasecheck.logbook.readings.readings import find_reading, list_readings, open_attempts
from greasecheck.logbook.records import Skull, SkullEvent, Tub
from greasecheck.logbook.renaming import rename_skull
from greasecheck.logbook.skulls.skulls import enter_event, enter_skull
from greasecheck.logbook.store.times import now
from greasecheck.logbook.undo import last_entry, undo
from greasecheck.logbook.water.baths import enter_tub, list_tubs
from greasecheck.model import Drawn, Reading, ReadingKind, Stroke, Verdict
from greasecheck.stages import EventKind
from greasecheck.words.photos.checks import check_words
from tests.logbook_samples import (
    day,
    make_bone,
    make_ladder,
    make_water,
    measure_file,
    measure_files,
    write_photos,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

    from greasecheck.logbook.store.book import Logbook

PLAIN = LogSettings()


def changed(
    change: Callable[[Reading], Reading],
) -> Callable[[Sequence[Path]], Iterator[tuple[Reading, ...]]]:
    """Measure as ever, then change each reading."""
    return lambda paths: ((change(measure_file(path)),) for path in paths)


def log_one(book: Logbook, folder: Path, change: Callable[[Reading], Reading]) -> Logged:
    (path,) = write_photos(folder / "photos", 1)
    (done,) = log_photos(book, [path], changed(change), PLAIN)
    return done


def count(book: Logbook, table: str) -> int:
    ((number,),) = book.rows(f"SELECT count(*) FROM {table}")
    return int(number)


def test_photos_are_logged_once_each(book: Logbook, tmp_path: Path) -> None:
    paths = write_photos(tmp_path / "photos", 20)
    first = list(log_photos(book, paths, measure_files, PLAIN))
    assert [done.outcome for done in first].count(Outcome.LOGGED) == 18
    assert [done.path for done in first if done.outcome is Outcome.REFUSED] == [paths[9], paths[19]]
    again = list(log_photos(book, paths, measure_files, PLAIN))
    assert [done.outcome for done in again].count(Outcome.KNOWN) == 18
    assert again[0].known == find_reading(book, 10, day(0))
    assert count(book, "readings") == 18


def test_a_new_tub_is_pointed_out_once(book: Logbook, tmp_path: Path) -> None:
    enter_tub(book, Tub(number=11, name="known"))
    paths = write_photos(tmp_path / "photos", 9)
    done = list(log_photos(book, paths, measure_files, PLAIN))
    assert [one.tub for one in done if one.new_tub] == [10, 12, 13, 14]
    assert [tub.name for tub in list_tubs(book)] == [None, "known", None, None, None]


def test_a_refused_photo_is_an_attempt_and_no_reading(book: Logbook, tmp_path: Path) -> None:
    done = log_one(book, tmp_path, lambda one: replace(one, verdict=Verdict.REFUSED))
    assert done.outcome is Outcome.REFUSED
    (attempt,) = open_attempts(book)
    assert (attempt.tub, attempt.taken_at) == (10, day(0))
    assert attempt.problem == "the photo cannot be used"
    assert count(book, "readings") == 0


def test_a_refusal_tells_what_its_failed_checks_advise(book: Logbook, tmp_path: Path) -> None:
    (path,) = write_photos(tmp_path / "photos", 1, refused_every=1)
    (done,) = log_photos(book, [path], measure_files, PLAIN)
    assert (done.problem, done.hint) == (
        "the camera looks at the sheet from the side",
        "face it squarely",
    )


def test_a_photo_read_at_last_is_no_open_attempt(book: Logbook, tmp_path: Path) -> None:
    log_one(book, tmp_path, lambda one: replace(one, verdict=Verdict.REFUSED))
    log_one(book, tmp_path, lambda one: replace(one, verdict=Verdict.REFUSED))
    assert len(open_attempts(book)) == 1
    assert log_one(book, tmp_path, lambda one: one).outcome is Outcome.LOGGED
    assert open_attempts(book) == ()


@pytest.mark.parametrize(
    ("change", "problem", "hint"),
    [
        ({"tub": None}, "no tub tag", "name the tub"),
        ({"water": make_water(float("nan"))}, "an impossible value: attenuation per m", "bug"),
        ({"bone": replace(make_bone(), yellow_patch_share=1.5)}, "impossible value", "bug"),
        ({"water": None, "bone": None}, "neither a jar of water nor a bone", "jar"),
        ({"taken_at": None}, "tells no time", "EXIF"),
        ({"taken_at": now() + timedelta(days=400)}, "lies in the future", "shift the time"),
    ],
)
def test_an_unusable_reading_is_refused_with_the_way_out(
    book: Logbook, tmp_path: Path, change: dict[str, Any], problem: str, hint: str
) -> None:
    done = log_one(book, tmp_path, lambda one: replace(one, **change))
    assert done.outcome is Outcome.REFUSED
    assert problem in done.problem
    assert hint in done.hint
    assert count(book, "readings") == 0


def test_a_photo_may_be_logged_as_of_its_own_time(book: Logbook, tmp_path: Path) -> None:
    ahead = now() + timedelta(days=400)
    measure = changed(lambda one: replace(one, taken_at=ahead))
    settings = LogSettings(present=ahead)
    (done,) = log_photos(book, write_photos(tmp_path / "photos", 1), measure, settings)
    assert done.outcome is Outcome.LOGGED


def test_a_shift_corrects_the_camera_clock(book: Logbook, tmp_path: Path) -> None:
    ahead = now() + timedelta(hours=3)
    (path,) = write_photos(tmp_path / "photos", 1)
    measure = changed(lambda one: replace(one, taken_at=ahead))
    settings = LogSettings(shift=timedelta(hours=-4))
    (done,) = log_photos(book, [path], measure, settings)
    assert done.reading is not None
    assert done.reading.taken_at == ahead - timedelta(hours=4)


def test_a_reading_before_the_tubs_first_day_is_doubtful(book: Logbook, tmp_path: Path) -> None:
    enter_tub(book, Tub(number=10, started_at=day(1)))
    done = log_one(book, tmp_path, lambda one: one)
    one = find_reading(book, 10)
    assert done.outcome is Outcome.LOGGED
    assert one.verdict is Verdict.DOUBTFUL
    check = checks_of(book, one.key)[-1]
    assert (check.name, check.value) == ("before_tub_start_h", 24.0)
    assert "clock" in check_words(check)


def test_the_same_photo_under_two_names_is_one_reading(book: Logbook, tmp_path: Path) -> None:
    (path,) = write_photos(tmp_path / "photos", 1)
    copy = shutil.copy(path, path.with_name("copy.jpg"))
    done = log_photos(book, [path, path.with_name("copy.jpg")], measure_files, PLAIN)
    assert [one.outcome for one in done] == [Outcome.LOGGED, Outcome.KNOWN]
    assert copy
    assert len(list_readings(book, 10)) == 1


def in_parts(paths: Sequence[Path]) -> Iterator[tuple[Reading, ...]]:
    """Measure a photo as one of the sheet and of two ladders, the last one refused."""
    for path in paths:
        jar = measure_file(path)
        ladder = replace(
            jar, kind=ReadingKind.LADDER, part="ladder-20", tub=20, ladder=make_ladder(), bone=None
        )
        lost = replace(ladder, part="ladder-21", tub=21, water=None, verdict=Verdict.REFUSED)
        yield jar, ladder, lost


def test_a_photo_gives_a_reading_for_each_part(book: Logbook, tmp_path: Path) -> None:
    (path,) = write_photos(tmp_path / "photos", 1)
    done = list(log_photos(book, [path], in_parts, PLAIN))
    assert [one.outcome for one in done] == [Outcome.LOGGED, Outcome.LOGGED, Outcome.REFUSED]
    jar, ladder = find_reading(book, 10), find_reading(book, 20)
    assert (jar.kind, ladder.kind) == (ReadingKind.JAR, ReadingKind.LADDER)
    assert ladder.key == f"{jar.key}:ladder-20"
    assert (ladder.decay_per_m, ladder.level_mm) == (8.5, 131.0)
    assert [attempt.tub for attempt in open_attempts(book)] == [21]
    again = list(log_photos(book, [path], in_parts, PLAIN))
    assert [(one.outcome, one.tub) for one in again] == [
        (Outcome.KNOWN, 10),
        (Outcome.KNOWN, 20),
    ]


def test_a_photo_whose_log_fails_half_way_leaves_nothing(book: Logbook, tmp_path: Path) -> None:
    (path,) = write_photos(tmp_path / "photos", 1)
    named = LogSettings(skull="unknown")
    with pytest.raises(LogbookError, match="no skull"):
        list(log_photos(book, [path], in_parts, named))
    assert count(book, "readings") == count(book, "attempts") == 0


def test_the_skull_on_the_rest_is_kept(book: Logbook, tmp_path: Path) -> None:
    enter_skull(book, Skull(name="fox"))
    (path,) = write_photos(tmp_path / "photos", 1)
    list(log_photos(book, [path], measure_files, LogSettings(skull="fox")))
    assert find_reading(book, 10).skull == "fox"


def test_a_file_that_cannot_be_read_stops_nothing(book: Logbook, tmp_path: Path) -> None:
    (path,) = write_photos(tmp_path / "photos", 1)
    gone, logged = log_photos(book, [tmp_path / "gone.jpg", path], measure_files, PLAIN)
    assert (gone.outcome, logged.outcome) == (Outcome.REFUSED, Outcome.LOGGED)
    assert "it cannot be read" in gone.problem


def test_one_run_is_one_entry(book: Logbook, tmp_path: Path) -> None:
    list(log_photos(book, write_photos(tmp_path / "photos", 20), measure_files, PLAIN))
    assert count(book, "entries") == 1
    list(log_photos(book, [], measure_files, PLAIN))
    assert count(book, "entries") == 1


def test_measuring_again_corrects_the_reading_and_shows_what_it_was(
    book: Logbook, tmp_path: Path
) -> None:
    (path,) = write_photos(tmp_path / "photos", 1)
    list(log_photos(book, [path], measure_files, PLAIN))
    mark_wrong(book, find_reading(book, 10).key)
    hazier = changed(lambda one: replace(one, water=make_water(30.0), tub=11))
    (done,) = log_photos(book, [path], hazier, LogSettings(again=True))
    assert done.outcome is Outcome.RENEWED
    assert done.known is not None
    assert (done.known.attenuation_per_m, done.known.tub) == (5.0, 10)
    one = find_reading(book, 11)
    assert (one.attenuation_per_m, one.wrong) == (30.0, False)
    fields = [correction.field for correction in corrections_of(book, 11)]
    assert {"wrong", "tub", "attenuation_per_m", "turbidity"} < set(fields)
    last = last_entry(book)
    assert last is not None
    undo(book, last)
    assert find_reading(book, 10).attenuation_per_m == 5.0


def test_measuring_again_logs_what_is_not_logged(book: Logbook, tmp_path: Path) -> None:
    paths = write_photos(tmp_path / "photos", 2)
    done = log_photos(book, paths, measure_files, LogSettings(again=True))
    assert [one.outcome for one in done] == [Outcome.LOGGED] * 2


def test_measuring_again_names_the_skull_when_told(book: Logbook, tmp_path: Path) -> None:
    enter_skull(book, Skull(name="fox"))
    paths = write_photos(tmp_path / "photos", 1)
    list(log_photos(book, paths, measure_files, PLAIN))
    list(log_photos(book, paths, measure_files, LogSettings(again=True, skull="fox")))
    assert find_reading(book, 10).skull == "fox"


@pytest.mark.parametrize(
    ("skull", "told"), [("foxx", "no skull is called 'foxx'"), ("hare", "hare is called doe now")]
)
def test_measuring_again_refuses_a_skull_that_is_not_called_so(
    book: Logbook, tmp_path: Path, skull: str, told: str
) -> None:
    for name in ("fox", "hare"):
        enter_skull(book, Skull(name=name))
    rename_skull(book, "hare", "doe")
    paths = write_photos(tmp_path / "photos", 1)
    list(log_photos(book, paths, measure_files, PLAIN))
    with pytest.raises(LogbookError, match=told):
        list(log_photos(book, paths, measure_files, LogSettings(again=True, skull=skull)))
    assert find_reading(book, 10).skull is None


DRAWN = Drawn(stroke=Stroke.TAP, points=((12.0, 34.5),), in_px=True)


def of_bone(reading: Reading) -> Reading:
    return replace(
        reading, water=None, bone=make_bone(), kind=ReadingKind.BONE, tub=None, skull_tag=7
    )


def test_a_skull_with_a_tag_of_its_own_is_known_by_it(book: Logbook, tmp_path: Path) -> None:
    assert log_one(book, tmp_path, of_bone).outcome is Outcome.REFUSED
    enter_tub(book, Tub(number=14))
    first = SkullEvent(skull="hare", happened_at=day(-3), kind=EventKind.ENTERED, tub=14)
    enter_skull(book, Skull(name="hare", tag=7), first)
    done = log_one(book, tmp_path, of_bone)
    assert (done.outcome, done.tub) == (Outcome.LOGGED, 14)
    (logged,) = list_readings(book, 14)
    assert (logged.skull, logged.kind) == ("hare", ReadingKind.BONE)


def test_bone_alone_is_of_the_only_skull_in_its_tub(book: Logbook, tmp_path: Path) -> None:
    enter_tub(book, Tub(number=12))
    alone = changed(lambda one: replace(of_bone(one), tub=12, skull_tag=None))
    photos = write_photos(tmp_path / "photos", 2)
    for name, photo in zip(("hare", "fox"), photos, strict=True):
        first = SkullEvent(skull=name, happened_at=day(-3), kind=EventKind.ENTERED, tub=12)
        enter_skull(book, Skull(name=name), first)
        list(log_photos(book, [photo], alone, PLAIN))
    named = book.rows("SELECT skull FROM readings ORDER BY taken_at")
    assert named == [("hare",), (None,)]  # with two in the tub it is nobody's


def test_a_tag_moves_on_only_from_a_skull_that_was_returned(book: Logbook) -> None:
    enter_tub(book, Tub(number=12))
    first = SkullEvent(skull="hare", happened_at=day(-3), kind=EventKind.ENTERED, tub=12)
    enter_skull(book, Skull(name="hare", tag=7), first)
    with pytest.raises(LogbookError, match="hare bears tag 7"):
        enter_skull(book, Skull(name="fox", tag=7))
    enter_event(book, SkullEvent(skull="hare", happened_at=day(-1), kind=EventKind.RETURNED))
    enter_skull(book, Skull(name="fox", tag=7))
    assert book.rows("SELECT name FROM skulls WHERE tag = 7") == [("fox",)]


def test_what_was_drawn_is_kept_with_the_reading(book: Logbook, tmp_path: Path) -> None:
    log_one(book, tmp_path, lambda one: replace(one, drawn=(DRAWN,)))
    assert list(drawn_by_photo(book).values()) == [(DRAWN,)]


def test_what_was_refused_alike_before_is_not_entered_again(book: Logbook, tmp_path: Path) -> None:
    def refused(reading: Reading) -> Reading:
        return replace(reading, verdict=Verdict.REFUSED, water=None, bone=None)

    first = log_one(book, tmp_path, refused)
    entries = count(book, "entries")
    again = log_one(book, tmp_path, refused)
    assert (first.outcome, first.repeated) == (Outcome.REFUSED, False)
    assert (again.outcome, again.repeated) == (Outcome.REFUSED, True)
    assert (count(book, "entries"), count(book, "attempts")) == (entries, 1)
