"""Any sequence of entries, taken out as CSV and in again, gives the same logbook."""

from __future__ import annotations

import tempfile
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from hypothesis import given, settings
from hypothesis import strategies as st

from greasecheck.errors import GreasecheckError
from greasecheck.logbook.changes import confirm_change, deny_change, probable_changes
from greasecheck.logbook.csv.read import import_tables
from greasecheck.logbook.csv.write import export_tables
from greasecheck.logbook.dependents import with_dependents
from greasecheck.logbook.readings.corrections import mark_wrong, move_to_tub, shift_readings
from greasecheck.logbook.readings.photos import LogSettings, log_photos
from greasecheck.logbook.readings.readings import enter_by_hand, list_readings
from greasecheck.logbook.readings.standards import put_in_force
from greasecheck.logbook.records import (
    BathTemperature,
    FollowUp,
    HandReading,
    Promise,
    Skull,
    SkullEvent,
    Standard,
    StandardKind,
    ToppedUp,
    Tub,
    WeightClass,
)
from greasecheck.logbook.renaming import rename_skull, renumber_tub
from greasecheck.logbook.skulls.promises import enter_promise
from greasecheck.logbook.skulls.skulls import (
    correct_event,
    enter_event,
    enter_follow_up,
    enter_skull,
)
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.safety import faults
from greasecheck.logbook.store.tables import TABLES
from greasecheck.logbook.undo import last_entry, take_back_together, undo
from greasecheck.logbook.water.baths import (
    Filling,
    change_water,
    correct_change,
    dump_water,
    enter_tub,
    list_tubs,
)
from greasecheck.logbook.water.between import enter_temperature, enter_top_up
from greasecheck.model import BoneState, Bound, Check, Recipe, Verdict
from greasecheck.stages import EventKind
from tests.logbook_samples import START, make_reading

if TYPE_CHECKING:
    from collections.abc import Callable

    from greasecheck.model import Reading

    Step = Callable[[Logbook], object]

# Disks are slow to sync, and no power cut is tested here.
MEMORY = "/dev/shm" if Path("/dev/shm").is_dir() else None
FEW = settings(max_examples=50, deadline=None)
PLAIN_LETTERS = st.characters(
    exclude_categories=["Cs"],
    exclude_characters="".join(map(chr, [*range(9), 11, 12, *range(14, 32), 127])),
)
TEXT = st.text(PLAIN_LETTERS, min_size=1, max_size=12)
MAYBE_TEXT = st.none() | TEXT
EVER = st.integers(0, 3650 * 86400).map(
    lambda seconds: datetime(2016, 1, 1, tzinfo=UTC) + timedelta(seconds=seconds)
)
DAYS = st.integers(0, 20).map(lambda days: START + timedelta(days=days))  # so few that many meet
TIMES = DAYS | EVER
TUBS = st.integers(10, 13)
SKULLS = ("fox", "roe, old", 'the "big" one', "Wildschwein ü")
NAMES = st.sampled_from(SKULLS)
SHARES = st.floats(0.0, 1.0)


def numbers(lowest: float, highest: float) -> st.SearchStrategy[float]:
    return st.floats(lowest, highest, allow_nan=False)


checks = st.builds(
    Check,
    name=TEXT,
    value=st.none() | numbers(-1e5, 1e5),
    limit=numbers(-1e5, 1e5),
    passed=st.booleans(),
    hard=st.booleans(),
    note=st.just("") | TEXT,
)


@st.composite
def readings(draw: st.DrawFn) -> Reading:
    bound = draw(st.sampled_from([None, *Bound]))
    base = make_reading(
        draw(st.text("abc", min_size=1, max_size=2)),
        at=draw(TIMES),
        tub=draw(TUBS),
        haze_per_m=draw(numbers(0.0, 100.0)),
        bone=draw(st.booleans()),
        verdict=draw(st.sampled_from(Verdict)),
    )
    assert base.water is not None
    water = replace(base.water, bound=bound, tint_yi=draw(numbers(-50, 200)))
    return replace(base, water=water, checks=tuple(draw(st.lists(checks, max_size=3))))


FILLINGS = st.builds(
    Filling,
    recipe=st.none() | st.sampled_from(Recipe),
    temperature_c=st.none() | numbers(0, 90),
    carry_over_share=st.none() | SHARES,
    why=MAYBE_TEXT,
)
EVENTS = st.builds(
    SkullEvent,
    skull=NAMES,
    happened_at=TIMES,
    kind=st.sampled_from(EventKind),
    tub=TUBS,
    strength_percent=st.none() | numbers(0, 100),
    note=MAYBE_TEXT,
)
HAND_READINGS = st.builds(
    HandReading,
    tub=TUBS,
    taken_at=TIMES,
    attenuation_per_m=numbers(0, 100),
    attenuation_std_per_m=numbers(0, 1),
    bone_yi_e313=st.none() | numbers(0, 60),
    bone_state=st.sampled_from([None, *BoneState]),
    note=MAYBE_TEXT,
)


def _undo(book: Logbook) -> None:
    last = last_entry(book)
    if last is not None:
        undo(book, last)


def _take_back(book: Logbook, back: int) -> None:
    """Take an older entry back with all that rests on it."""
    last = last_entry(book)
    number = max(1, last.number - back) if last else 1
    take_back_together(book, with_dependents(book, number))


def tub_steps() -> st.SearchStrategy[Step]:
    tubs = st.builds(
        Tub, number=TUBS, name=MAYBE_TEXT, volume_l=numbers(0.001, 999), started_at=TIMES
    )
    return tubs.map(lambda tub: lambda book: enter_tub(book, tub))


def water_steps() -> st.SearchStrategy[Step]:
    return st.one_of(
        st.tuples(TUBS, TIMES, FILLINGS).map(
            lambda drawn: lambda book: change_water(book, [drawn[0]], *drawn[1:])
        ),
        st.tuples(TUBS, TIMES).map(
            lambda drawn: lambda book: dump_water(book, [drawn[0]], drawn[1])
        ),
        st.builds(BathTemperature, tub=TUBS, at=TIMES, temperature_c=numbers(0, 100)).map(
            lambda found: lambda book: enter_temperature(book, found)
        ),
        st.builds(ToppedUp, tub=TUBS, at=TIMES, litres=numbers(0.001, 99)).map(
            lambda poured: lambda book: enter_top_up(book, poured)
        ),
        st.tuples(FILLINGS, st.booleans()).map(lambda drawn: lambda book: _settle(book, *drawn)),
    )


def skull_steps() -> st.SearchStrategy[Step]:
    skulls = st.builds(
        Skull, name=NAMES, weight_class=st.sampled_from([None, *WeightClass]), owner=MAYBE_TEXT
    )
    follow_ups = st.builds(
        FollowUp, skull=NAMES, seen_at=TIMES, yellowed=st.booleans(), yi_e313=numbers(0, 60)
    )
    return st.one_of(
        skulls.map(lambda skull: lambda book: enter_skull(book, skull)),
        EVENTS.map(lambda event: lambda book: enter_event(book, event)),
        follow_ups.map(lambda seen: lambda book: enter_follow_up(book, seen)),
    )


def reading_steps() -> st.SearchStrategy[Step]:
    return st.one_of(
        HAND_READINGS.map(lambda made: lambda book: enter_by_hand(book, made)),
        readings().map(lambda photo: lambda book: _log(book, [photo])),
        st.tuples(TUBS, MAYBE_TEXT).map(lambda drawn: lambda book: _correct(book, *drawn)),
    )


def naming_steps() -> st.SearchStrategy[Step]:
    return st.one_of(
        st.tuples(NAMES, NAMES | st.just("elk"), st.booleans()).map(
            lambda drawn: lambda book: rename_skull(book, *drawn[:2], merge=drawn[2])
        ),
        st.tuples(TUBS, TUBS | st.just(14), st.booleans()).map(
            lambda drawn: lambda book: renumber_tub(book, *drawn[:2], merge=drawn[2])
        ),
        st.builds(Skull, name=NAMES, tag=st.integers(0, 2)).map(
            lambda skull: lambda book: enter_skull(book, skull)
        ),
        st.builds(Promise, skull=NAMES, promised_at=TIMES, ready_by=TIMES, note=MAYBE_TEXT).map(
            lambda promise: lambda book: enter_promise(book, promise)
        ),
    )


def correcting_steps() -> st.SearchStrategy[Step]:
    return st.one_of(
        st.tuples(TUBS, TIMES, TIMES, FILLINGS).map(
            lambda drawn: lambda book: correct_change(book, *drawn)
        ),
        st.tuples(EVENTS, TIMES).map(lambda drawn: lambda book: correct_event(book, *drawn)),
    )


def taking_back_steps() -> st.SearchStrategy[Step]:
    return st.integers(0, 30).map(lambda back: lambda book: _take_back(book, back))


def standard_steps() -> st.SearchStrategy[Step]:
    standards = st.builds(
        Standard,
        kind=st.sampled_from(StandardKind),
        in_force_from=TIMES,
        body=st.just('{"a": [1, "ü"]}'),
        note=MAYBE_TEXT,
    )
    return standards.map(lambda standard: lambda book: put_in_force(book, standard))


NO_READINGS = (
    tub_steps(),
    water_steps(),
    skull_steps(),
    naming_steps(),
    correcting_steps(),
    standard_steps(),
)
STEPS = st.one_of(*NO_READINGS, reading_steps(), taking_back_steps(), st.just(_undo))


def begin(book: Logbook) -> None:
    """Enter what most entries refer to, and a fall of the haze in each tub."""
    first, filling = START - timedelta(hours=1), Filling(recipe=Recipe.SOAP, temperature_c=40.0)
    for tub in range(10, 14):
        enter_tub(book, Tub(number=tub, volume_l=60.0))
        change_water(book, [tub], first, filling)
        for number, haze in enumerate((20.0, 4.0, 19.0, 3.0)):
            enter_by_hand(
                book,
                HandReading(
                    tub=tub,
                    taken_at=START + timedelta(days=number),
                    attenuation_per_m=haze,
                    attenuation_std_per_m=0.3,
                ),
            )
    for tub, name in enumerate(SKULLS, start=10):
        enter_skull(book, Skull(name=name))
        at = first + timedelta(minutes=tub)
        enter_event(book, SkullEvent(skull=name, happened_at=at, kind=EventKind.ENTERED, tub=tub))


def _log(book: Logbook, photos: list[Reading]) -> None:
    with tempfile.TemporaryDirectory(dir=MEMORY) as folder:
        paths = []
        for number, reading in enumerate(photos):
            path = Path(folder) / f"{number}.jpg"
            path.write_text(reading.photo_sha256, encoding="utf-8")
            paths.append(path)
        list(log_photos(book, paths, lambda _: [[one] for one in photos], LogSettings()))


def _settle(book: Logbook, filling: Filling, confirm: bool) -> None:
    for tub in list_tubs(book):
        for number, change in enumerate(probable_changes(book, tub.number)):
            if confirm or number % 2:
                confirm_change(book, change, filling)
            else:
                deny_change(book, change)


def _correct(book: Logbook, tub: int, why: str | None) -> None:
    for number, one in enumerate(list_readings(book, tub, wrong_too=True)):
        if number % 3 == 0:
            mark_wrong(book, one.key, wrong=not one.wrong, why=why)
        elif number % 3 == 1:
            move_to_tub(book, one.key, tub + 1, why)
        else:
            shift_readings(book, [one], timedelta(hours=-5, seconds=1), why)


def content(book: Logbook) -> dict[str, list[tuple[object, ...]]]:
    """Return all that a logbook holds, except for which entry brought it."""
    return {
        table.name: book.rows(
            f"SELECT {', '.join(table.names)} FROM {table.name} ORDER BY {', '.join(table.key)}"
        )
        for table in TABLES
    }


@FEW
@given(st.lists(STEPS, max_size=25))
def test_out_and_in_again_gives_the_same_logbook(sequence: list[Step]) -> None:
    with tempfile.TemporaryDirectory(dir=MEMORY) as name:
        folder = Path(name)
        with (
            Logbook(folder / "one.logbook", create=True) as one,
            Logbook(folder / "other.logbook", create=True) as other,
        ):
            begin(one)
            for step in sequence:
                with suppress(GreasecheckError):  # an impossible entry is refused, no more
                    step(one)
            export_tables(one, folder / "out")
            import_tables(other, [folder / "out"])
            assert content(other) == content(one)
            export_tables(other, folder / "again")
            for file in (folder / "out").iterdir():
                assert (folder / "again" / file.name).read_bytes() == file.read_bytes()


@settings(FEW, max_examples=20)
@given(st.lists(readings(), max_size=12, unique_by=lambda one: one.photo_sha256))
def test_the_order_of_photos_changes_nothing(made: list[Reading]) -> None:
    # Bones are compared with the looks that are logged already.
    photos = [replace(reading, bone=None) for reading in made]
    shuffled = sorted(photos, key=lambda reading: reading.photo_sha256[::-1])
    with tempfile.TemporaryDirectory(dir=MEMORY) as name:
        folder = Path(name)
        with (
            Logbook(folder / "one.logbook", create=True) as one,
            Logbook(folder / "other.logbook", create=True) as other,
        ):
            _log(one, photos)
            _log(other, shuffled)
            assert _without_attempt_times(one) == _without_attempt_times(other)


def _without_attempt_times(book: Logbook) -> dict[str, list[tuple[object, ...]]]:
    found = content(book)
    return {name: rows for name, rows in found.items() if name != "attempts"}


@FEW
@given(st.lists(STEPS, min_size=1, max_size=12))
def test_undoing_everything_leaves_only_wrong_readings(sequence: list[Step]) -> None:
    with (
        tempfile.TemporaryDirectory(dir=MEMORY) as name,
        Logbook(Path(name) / "season.logbook", create=True) as book,
    ):
        for step in sequence:
            with suppress(GreasecheckError):
                step(book)
        while last_entry(book) is not None:
            _undo(book)
        found = content(book)
        ((right,),) = book.rows("SELECT count(*) FROM readings WHERE wrong = 0")
        assert right == 0
        left = {name for name, rows in found.items() if rows}
        assert left <= {"readings", "corrections", "tubs", "skulls", "check_plans"}


@FEW
@given(st.lists(STEPS, max_size=12), st.one_of(NO_READINGS))
def test_what_is_undone_leaves_all_as_it_was(before: list[Step], step: Step) -> None:
    with (
        tempfile.TemporaryDirectory(dir=MEMORY) as name,
        Logbook(Path(name) / "season.logbook", create=True) as book,
    ):
        begin(book)
        for one in before:
            with suppress(GreasecheckError):
                one(book)
        there, last = content(book), last_entry(book)
        with suppress(GreasecheckError):
            step(book)
        while last_entry(book) != last:
            _undo(book)
        assert content(book) == there
        assert faults(book) == ()
