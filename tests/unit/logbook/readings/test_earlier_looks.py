from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from greasecheck.logbook.readings.earlier_looks import flag_unlike
from greasecheck.logbook.readings.readings import insert_reading
from greasecheck.logbook.records import Skull, SkullEvent, Tub
from greasecheck.logbook.skulls.skulls import enter_skull
from greasecheck.logbook.water.baths import enter_tub
from greasecheck.model import BoneState, Reading, Verdict
from greasecheck.stages import EventKind
from greasecheck.words.photos.checks import check_words
from tests.logbook_samples import day, make_bone, make_reading

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook


def look(number: int, *, area_mm2: float = 2310.0, yi_e313: float = 27.5) -> Reading:
    bone = replace(make_bone(yi_e313), area_mm2=area_mm2)
    return replace(make_reading(f"look {number}", at=day(number)), bone=bone)


@pytest.fixture
def looked(book: Logbook) -> Logbook:
    """A logbook with three looks at a bone of tub 12."""
    enter_tub(book, Tub(number=12))
    with book.entry("looks") as entry:
        for number in range(3):
            insert_reading(entry, look(number), 12, None)
    return book


def test_the_same_bone_stays_good(looked: Logbook) -> None:
    flagged = flag_unlike(looked, look(3, area_mm2=2500.0, yi_e313=31.0), None)
    assert flagged.verdict is Verdict.GOOD
    assert {check.name for check in flagged.checks} >= {
        "bone_area_to_earlier",
        "bone_yi_from_earlier",
    }


@pytest.mark.parametrize(
    ("other", "name"),
    [
        ({"area_mm2": 3500.0}, "bone_area_to_earlier"),
        ({"yi_e313": 60.0}, "bone_yi_from_earlier"),
        ({"yi_e313": 2.0}, "bone_yi_from_earlier"),
    ],
)
def test_something_else_is_doubtful(looked: Logbook, other: dict[str, float], name: str) -> None:
    flagged = flag_unlike(looked, look(3, **other), None)
    assert flagged.verdict is Verdict.DOUBTFUL
    [failed] = [check for check in flagged.checks if not check.passed]
    assert failed.name == name
    assert check_words(failed)


def test_what_is_not_to_be_compared_is_not(looked: Logbook) -> None:
    large = look(3, area_mm2=5000.0)
    assert large.bone is not None
    dry = replace(large, bone=replace(large.bone, state=BoneState.DRY))
    assert flag_unlike(looked, dry, None) == dry
    assert flag_unlike(looked, replace(large, tub=14), None).verdict is Verdict.GOOD
    assert flag_unlike(looked, replace(large, bone=None), None).verdict is Verdict.GOOD
    for name in ("fox", "deer"):
        entered = SkullEvent(skull=name, happened_at=day(0), kind=EventKind.ENTERED, tub=12)
        enter_skull(looked, Skull(name=name), entered)
    assert flag_unlike(looked, large, None).verdict is Verdict.GOOD, "which of the two is it?"


def test_a_named_skull_is_compared_with_itself(looked: Logbook) -> None:
    enter_skull(looked, Skull(name="deer"))
    with looked.entry("looks") as entry:
        for number in range(4, 7):
            insert_reading(entry, look(number, area_mm2=9000.0), 12, "deer")
    assert flag_unlike(looked, look(8, area_mm2=9100.0), "deer").verdict is Verdict.GOOD
    assert flag_unlike(looked, look(8), None).verdict is Verdict.GOOD
    assert flag_unlike(looked, look(8, area_mm2=13000.0), "deer").verdict is Verdict.DOUBTFUL


def test_a_refused_or_doubtful_reading_stays_what_it_is(looked: Logbook) -> None:
    doubtful = replace(look(3, area_mm2=5000.0), verdict=Verdict.DOUBTFUL)
    assert flag_unlike(looked, doubtful, None).verdict is Verdict.DOUBTFUL
