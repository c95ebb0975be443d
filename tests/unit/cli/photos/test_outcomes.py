"""What is said of each photo that was to be logged."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from greasecheck.cli.photos.read_log import is_good, news_of, print_outcomes
from greasecheck.logbook.readings.photos import Logged, Outcome
from greasecheck.model import TimeSource, Verdict
from tests.logbook_samples import make_reading
from tests.unit.report.season_samples import logged

GOOD, DOUBTFUL = make_reading(), make_reading("two", verdict=Verdict.DOUBTFUL)


def one(outcome: Outcome, **more: Any) -> Logged:  # noqa: ANN401 - fields of Logged
    return replace(Logged(path=Path("photos/one.jpg"), outcome=outcome), **more)


@pytest.mark.parametrize(
    ("found", "good"),
    [
        (one(Outcome.LOGGED, reading=GOOD), True),
        (one(Outcome.LOGGED, reading=DOUBTFUL), False),
        (one(Outcome.RENEWED, reading=GOOD), True),
        (one(Outcome.KNOWN, known=logged()), True),
        (one(Outcome.KNOWN, known=replace(logged(), verdict=Verdict.DOUBTFUL)), False),
        (one(Outcome.REFUSED, reading=GOOD, problem="its tub is not known"), False),
        (one(Outcome.KNOWN), False),
    ],
)
def test_only_a_good_reading_that_is_in_the_log_is_good(found: Logged, good: bool) -> None:
    assert is_good(found) is good


def test_each_outcome_is_counted_once_and_photos_not_readings(
    capsys: pytest.CaptureFixture[str],
) -> None:
    two = Path("photos/two.jpg")
    print_outcomes(
        [
            one(Outcome.LOGGED, reading=GOOD, tub=12),
            one(Outcome.LOGGED, reading=GOOD, tub=13, new_tub=True),
            one(Outcome.KNOWN, path=two, known=logged()),
            one(Outcome.REFUSED, path=Path("a.jpg"), problem="a.jpg: no", hint="do", repeated=True),
            one(Outcome.REFUSED, path=Path("b.jpg"), problem="b.jpg: it is torn", hint="take it"),
        ]
    )
    told = capsys.readouterr().err
    counts = "4 photos: 2 logged, 1 logged before, 1 not logged, 1 still not logged"
    assert told.startswith(f"b.jpg is not logged: it is torn: take it\n{counts}\n")
    assert told.count("was new and stands there unnamed") == 1
    assert "tub 13 was new" in told


def test_what_was_refused_before_is_told_again_of_a_photo_that_was_named() -> None:
    before = one(Outcome.REFUSED, repeated=True)
    assert news_of([before], ()) == ()
    assert news_of([before], [before.path]) == (before,)


def test_the_day_of_a_file_is_pointed_out_once_when_it_is_logged(
    capsys: pytest.CaptureFixture[str],
) -> None:
    dated = replace(GOOD, time_source=TimeSource.FILE)
    outcomes = (Outcome.LOGGED, Outcome.RENEWED, Outcome.REFUSED)
    print_outcomes([one(outcome, reading=dated, tub=12) for outcome in outcomes])
    assert capsys.readouterr().err.count("the day of its file") == 1
