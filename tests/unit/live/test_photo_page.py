"""What the page of a photo says of its readings, and what its form changes."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from greasecheck.errors import LiveError, PhotoError
from greasecheck.live.photos.measuring import PhotoFacts
from greasecheck.live.photos.page import PhotoPage, photo_page
from greasecheck.live.photos.views import MOST_DRAWN, _drawn, _facts_in, good_ones
from greasecheck.logbook.readings.photos import LogSettings, log_photos
from greasecheck.logbook.records import Tub
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import enter_tub
from greasecheck.measure.reading import refused_reading
from greasecheck.model import BoneState, Drawn, ReadingKind, Stroke, Verdict
from tests.logbook_samples import START, make_bone, make_reading, make_water
from tests.unit.live.phones import waiting_photo

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.live.photos.waiting import Waiting
    from greasecheck.model import Reading

FILE = Path("photo")


def page_of(book: Logbook, reading: Reading, *others: Reading) -> PhotoPage:
    return photo_page(book, waiting_photo(reading, FILE, *others))


def ladder(tub: int, verdict: Verdict = Verdict.GOOD) -> Reading:
    reading = make_reading(tub=tub, bone=False, verdict=verdict)
    return replace(reading, kind=ReadingKind.LADDER, part=f"ladder-{tub}")


def test_each_of_several_readings_is_told_by_its_tub_with_its_doubt(book: Logbook) -> None:
    page = page_of(book, ladder(19), ladder(11, Verdict.REFUSED), ladder(15, Verdict.DOUBTFUL))
    assert page.whose == "Tubs 11, 15 and 19"
    refused, doubtful, good = page.seen
    assert refused == "Tub 11: refused."
    assert doubtful.startswith("Tub 15: water ")
    assert doubtful.endswith(" (doubtful).")
    assert good.startswith("Tub 19: water ")
    assert "doubtful" not in good


@pytest.mark.parametrize(("tub", "whose"), [(None, "No tub"), (12, "Tub 12")])
def test_a_photo_of_one_reading_names_its_tub(book: Logbook, tub: int | None, whose: str) -> None:
    page = page_of(book, make_reading(tub=tub))
    assert page.whose == whose
    (seen,) = page.seen
    assert seen.startswith("Water ")


def test_a_refused_photo_shows_no_figures(book: Logbook) -> None:
    assert page_of(book, make_reading()).facts
    assert page_of(book, make_reading(verdict=Verdict.REFUSED)).facts == ()


@pytest.mark.parametrize(
    ("verdict", "shown"),
    [(Verdict.GOOD, Verdict.DOUBTFUL), (Verdict.REFUSED, Verdict.REFUSED)],
)
def test_a_photo_from_before_its_tub_is_doubted_but_a_refused_one_stays_refused(
    book: Logbook, verdict: Verdict, shown: Verdict
) -> None:
    enter_tub(book, Tub(number=12, started_at=START + timedelta(days=1)))
    assert page_of(book, make_reading(verdict=verdict)).reading.verdict is shown


@pytest.mark.parametrize(
    ("unit", "meaning"), [("NTU (rough)", "a factor of two"), ("FNU", "your dilution series")]
)
def test_turbidity_is_rough_but_by_a_series_of_ones_own(
    book: Logbook, unit: str, meaning: str
) -> None:
    reading = replace(make_reading(), water=replace(make_water(), turbidity_unit=unit))
    _, turbidity, _, *_ = page_of(book, reading).facts
    assert turbidity.value.endswith(f" {unit}")
    assert meaning in turbidity.meaning


@pytest.mark.parametrize(
    ("kind", "verdict", "can_draw"),
    [
        (ReadingKind.JAR, Verdict.DOUBTFUL, True),
        (ReadingKind.JAR, Verdict.REFUSED, False),
        (ReadingKind.BONE, Verdict.REFUSED, True),
    ],
)
def test_an_outline_is_corrected_where_that_may_help(
    book: Logbook, kind: ReadingKind, verdict: Verdict, *, can_draw: bool
) -> None:
    reading = replace(make_reading(verdict=verdict), kind=kind)
    assert page_of(book, reading).can_draw is can_draw


def _found(reading: Reading, _: Sequence[Path]) -> list[tuple[Reading]]:
    """Stand in for the measurement of one photo."""
    return [(reading,)]


def test_a_bone_unlike_its_earlier_looks_is_doubted_before_it_is_logged(book: Logbook) -> None:
    """Twice the area that the tub's bone had on two photos: something else lies on the rest."""
    for name in ("one", "two"):
        file = Path(book.path).with_name(f"{name}.jpg")
        file.write_text(name)
        reading = make_reading(name)
        list(log_photos(book, [file], partial(_found, reading), LogSettings()))
    same = make_reading("three", at=START + timedelta(days=1))
    other = replace(same, bone=replace(make_bone(), area_mm2=2 * make_bone().area_mm2))
    assert page_of(book, same).reading.verdict is Verdict.GOOD
    assert page_of(book, other).reading.verdict is Verdict.DOUBTFUL
    assert good_ones(book, [waiting_photo(other, FILE)]) == ()


@pytest.mark.parametrize(
    "reading", [make_reading("two", tub=None), make_reading("two", at=None)], ids=["tub", "time"]
)
def test_a_good_reading_that_lacks_its_tub_or_time_is_not_logged_unasked(
    book: Logbook, reading: Reading
) -> None:
    whole, lacking = waiting_photo(make_reading(), FILE), waiting_photo(reading, FILE)
    assert good_ones(book, [lacking, whole]) == (whole,)


def test_a_fault_is_told_without_the_name_that_the_file_has_while_it_waits(book: Logbook) -> None:
    fault = PhotoError(f"{FILE}: the file is cut short", hint="send it again")
    reading = refused_reading(FILE, make_reading().photo_sha256, fault)
    assert page_of(book, reading).advice == ("the file is cut short: send it again",)


@pytest.fixture
def photo() -> Waiting:
    """Return a photo of which a person said all that can be said."""
    told = PhotoFacts(
        tub=14,
        state=BoneState.DRY,
        dilution=2.0,
        taken_at=make_reading().taken_at,
        drawn=(Drawn(stroke=Stroke.TAP, points=((1.0, 2.0),), in_px=True),),
    )
    return replace(waiting_photo(make_reading(), FILE), facts=told)


def test_a_form_that_says_nothing_leaves_all_that_was_said(photo: Waiting) -> None:
    assert _facts_in({}, photo) == photo.facts
    assert _facts_in({"tub": "", "dilution": "", "state": "", "taken": ""}, photo) == photo.facts


def test_just_now_is_when_the_photo_came_in(photo: Waiting) -> None:
    assert _facts_in({"taken": "now"}, photo).taken_at == photo.arrived_at


@pytest.mark.parametrize(("dilution", "is_taken"), [("1000", True), ("1001", False)])
def test_water_is_diluted_a_thousand_times_at_most(
    photo: Waiting, dilution: str, *, is_taken: bool
) -> None:
    if is_taken:
        assert _facts_in({"dilution": dilution}, photo).dilution == 1000.0
    else:
        with pytest.raises(LiveError):
            _facts_in({"dilution": dilution}, photo)


TAP, LOOP = ["tap", 1, [[3, 4]]], ["leave_out", 1, [[0, 0], [9, 0], [9, 9]]]


def test_strokes_are_added_to_those_before_until_a_person_starts_anew(photo: Waiting) -> None:
    drawn = _drawn({"drawn": json.dumps([LOOP, TAP])}, photo)
    assert drawn[:1] == photo.facts.drawn
    assert [one.stroke for one in drawn[1:]] == [Stroke.LEAVE_OUT, Stroke.TAP]
    assert _drawn({"anew": "yes", "drawn": json.dumps([TAP])}, photo) == ()


@pytest.mark.parametrize(
    "strokes",
    [
        [["leave_out", 1, [[0, 0], [9, 0]]]],  # no area
        [["tap", 1, []]],
        [["tap", 1, [[1e5, 0]]]],  # far outside of any photo
        [TAP] * MOST_DRAWN,  # one more than may be, with that before
        [["leave_out", 1, [[0, 0]] * 20_000]],  # longer than may be
    ],
    ids=["two corners", "nowhere", "far away", "many", "long"],
)
def test_a_drawing_that_cannot_be_meant_is_refused(
    photo: Waiting, strokes: list[list[object]]
) -> None:
    with pytest.raises(LiveError, match="strokes"):
        _drawn({"drawn": json.dumps(strokes)}, photo)
