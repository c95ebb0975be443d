"""Every check that a photo is judged by has its words, and none is left over."""

import re
from pathlib import Path

import pytest

import greasecheck
from greasecheck.cli.photos.reading_json import checks_json
from greasecheck.errors import (
    BoneError,
    ColourError,
    DataFileError,
    PhotoError,
    SheetError,
    WaterError,
)
from greasecheck.measure.checks import card_limits, limits
from greasecheck.measure.checks.limits import Limit
from greasecheck.measure.checks.verdict import failure, refusal, requirement
from greasecheck.measure.ladder import limits as ladder_limits
from greasecheck.model import Check
from greasecheck.model.check_places import NOWHERE, PLACES, Place, place_of
from greasecheck.words.photos.check_texts import CHECK_TEXTS
from greasecheck.words.photos.checks import UNKNOWN, check_words

# What ends a step of a reading, and so becomes a row by its code.
STEP_ENDERS = (PhotoError, SheetError, ColourError, WaterError, BoneError, DataFileError)
PACKAGE = Path(greasecheck.__file__).parent
LIMITS = [
    value
    for room in (limits, card_limits, ladder_limits)
    for value in vars(room).values()
    if isinstance(value, Limit)
]
# Rows that are made without a limit, by their name in the code.
ROWS = re.compile(r"""(?:requirement|refusal|_check)\(\s*"([a-z_]+)"|name="([a-z_]+_h)",""")


def rows() -> set[str]:
    found = [
        name
        for room in ("measure", "logbook/readings")
        for file in (PACKAGE / room).rglob("*.py")
        for pair in ROWS.findall(file.read_text())
        for name in pair
        if name
    ]
    return set(found)


def test_each_check_has_words_and_no_words_are_left_over() -> None:
    assert len(LIMITS) > 60
    keys = {f"{one.name}/{one.case}" if one.case else one.name for one in LIMITS}
    assert rows() >= {"tub_tag_seen", "jar_filled", "haze_seen", "before_tub_start_h"}
    cases = {"tub_tag_seen/card", "reference_camera/unknown"}
    assert keys | rows() | cases == set(CHECK_TEXTS)


def test_each_check_has_a_place_in_the_photo_or_is_listed_as_having_none() -> None:
    assert not set(PLACES) & NOWHERE
    assert set(PLACES) | NOWHERE == set(CHECK_TEXTS) | {error.code for error in STEP_ENDERS}
    step, ladder = limits.CLIPPING.check(1.0), ladder_limits.CLIPPING.check(1.0)
    assert (place_of(step), place_of(ladder)) == (Place.CHART, Place.DIP_LADDER)
    assert place_of(failure(WaterError("no bars", hint="look"))) is Place.JAR
    assert place_of(failure(SheetError("no sheet", hint="look"))) is None


@pytest.mark.parametrize("limit", LIMITS, ids=lambda one: f"{one.name}{one.case}")
def test_a_failed_limit_says_what_is_wrong_and_what_to_do(limit: Limit) -> None:
    check = limit.check(float("nan"))
    words = check_words(check)
    assert words != UNKNOWN
    problem, _, remedy = words.partition(": ")
    assert problem
    assert remedy
    assert limit.name not in words


def test_one_name_has_words_for_each_case() -> None:
    sheet = limits.CLIPPING.check(1.0)
    ladder = ladder_limits.CLIPPING.check(1.0)
    assert sheet.name == ladder.name
    assert check_words(sheet) != check_words(ladder)
    card = requirement("tub_tag_seen", False, note="card")
    assert "card's slot" in check_words(card)


def test_a_note_fills_the_words_or_stands_for_itself() -> None:
    camera = requirement("reference_camera", False, note="Make {value} Model")
    assert check_words(camera).startswith("the clear-water reference was made with Make {value} M")
    error = SheetError("no sheet was found", hint="show all four corners")
    assert check_words(failure(error)) == "no sheet was found: show all four corners"
    assert check_words(refusal("not known to this version")) == UNKNOWN
    assert check_words(requirement("jar_or_bone_seen", True)) == ""


def test_checks_as_json_keep_their_keys() -> None:
    [row] = checks_json([limits.TILT.check(31.0)])
    assert row == {
        "name": "tilt_deg",
        "value": 31.0,
        "limit": 25.0,
        "passed": False,
        "hard": False,
        "advice": "the camera looks at the sheet from the side: face it squarely",
    }


def test_a_value_stands_in_the_words() -> None:
    grown = Check(name="bone_area_to_earlier", value=1.82, limit=1.35, passed=False, hard=False)
    assert "1.8 times as large" in check_words(grown)


def test_a_note_with_a_colon_does_not_stand_for_words_that_hold_it() -> None:
    camera = requirement("reference_camera", False, note="Acme: Cam 3")
    assert check_words(camera).startswith("the clear-water reference was made with Acme: Cam 3")
