"""What the table of readings shows, and what it holds back."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from greasecheck.cli.photos.reading_table import (
    TOO_MURKY,
    haze_words,
    print_moments,
    print_readings,
)
from greasecheck.measure.moments import Joined, Moment
from greasecheck.model import Bound, Verdict
from tests.logbook_samples import make_check, make_reading, make_water


@pytest.mark.parametrize(
    ("per_m", "bound", "words"),
    [
        (12.345, None, "12.35 ± 0.40"),
        (66.6, Bound.ABOVE, "> 67"),
        (0.456, Bound.BELOW, "< 0.46"),
    ],
)
def test_a_haze_has_its_error_or_its_side(per_m: float, bound: Bound | None, words: str) -> None:
    assert haze_words(make_water(per_m, bound)) == words
    assert haze_words(None) == "-"


def test_a_row_has_the_figures_of_water_and_bone(capsys: pytest.CaptureFixture[str]) -> None:
    print_readings([make_reading(), make_reading("two", tub=None, haze_per_m=None, bone=False)])
    rows = [line.split() for line in capsys.readouterr().out.splitlines()]
    figures = ["12.50", "±", "0.40", "12", "27.5", "±", "0.6", "18", "±", "2%"]
    assert ["one.jpg", "12", *figures, "good"] in rows
    assert ["two.jpg", "-", "-", "-", "-", "-", "good"] in rows


def test_a_refused_photo_shows_no_figure(capsys: pytest.CaptureFixture[str]) -> None:
    print_readings([make_reading(verdict=Verdict.REFUSED)])
    shown = capsys.readouterr().out
    assert ["one.jpg", "12", "-", "-", "-", "-", "refused"] in [
        line.split() for line in shown.splitlines()
    ]
    assert "left out beside the bone" not in shown


def test_a_refused_photo_tells_its_first_cause_and_a_doubtful_one_each(
    capsys: pytest.CaptureFixture[str],
) -> None:
    tilt = make_check(passed=False, hard=True)
    scale = replace(tilt, name="sheet_px_per_mm")
    for verdict, lines in ((Verdict.REFUSED, 1), (Verdict.DOUBTFUL, 2)):
        print_readings([replace(make_reading(bone=False), verdict=verdict, checks=(tilt, scale))])
        told = " ".join(capsys.readouterr().out.split())
        assert told.count("one.jpg: ") == lines
        assert ("(1 more, which mostly follow from it: --json)" in told) is (lines == 1)


def test_water_beyond_the_jar_is_told_what_to_do(capsys: pytest.CaptureFixture[str]) -> None:
    murky = replace(make_reading(), water=make_water(65.0, Bound.ABOVE))
    print_readings([murky])
    assert TOO_MURKY in " ".join(capsys.readouterr().out.split())
    print_readings([make_reading()])
    assert "too murky" not in capsys.readouterr().out


def test_photos_of_one_moment_are_told_with_what_they_leave_out(
    capsys: pytest.CaptureFixture[str],
) -> None:
    moment = Moment(
        tub=12,
        taken_at=datetime(2026, 3, 1, tzinfo=UTC),
        photos=("a.jpg", "b.jpg", "c.jpg"),
        left_out=("photos/c.jpg",),
        attenuation=Joined(value=12.34, std=0.41, sound=(True, True, False)),
        yellowness=None,
    )
    print_moments([moment, replace(moment, tub=None, left_out=())])
    first, second = " ".join(capsys.readouterr().out.split()).split(" no tub: ")
    assert first.startswith("tub 12: 3 photos ")
    assert first.endswith("; left out: c.jpg")
    for told in (first, second):
        assert "haze 12.3 ± 0.4 per m" in told
    assert "left out" not in second
