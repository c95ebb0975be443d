"""Each figure of a reading stands under its own name, and the exit status rests on all of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any, cast

import pytest

from greasecheck.cli.photos import read_job
from greasecheck.cli.photos.read_job import ReadJob, Verdicts, Wanted, log_photos, show_photos
from greasecheck.cli.photos.reading_json import checks_json, moment_json, reading_json
from greasecheck.logbook.readings.photos import Logged, LogSettings, Outcome
from greasecheck.measure.moments import Joined, Moment
from greasecheck.measure.reading import ReadSettings
from greasecheck.model import Verdict
from tests.logbook_samples import make_check, make_reading

if TYPE_CHECKING:
    from functools import partial

    from greasecheck.logbook.store.book import Logbook
    from greasecheck.measure.workers import Workers
    from greasecheck.model import Drawn


def test_the_water_of_a_reading_is_told_channel_by_channel_with_its_errors() -> None:
    told = cast("dict[str, Any]", reading_json(make_reading(haze_per_m=10.0))["water"])
    assert told["attenuation_per_m"] == {"r": 9.0, "g": 10.0, "b": 12.0, "main": 10.0}
    figures = ("attenuation_std_per_m", "turbidity", "turbidity_std", "tint_yi", "path_mm")
    assert [told[name] for name in figures] == [0.4, 21.0, 1.3, 11.5, 60.0]


@pytest.mark.parametrize(("passed", "hard"), [(True, False), (False, False), (False, True)])
def test_a_check_tells_whether_it_failed_and_whether_it_refuses(passed: bool, hard: bool) -> None:
    (told,) = checks_json([make_check(passed=passed, hard=hard)])
    assert (told["passed"], told["hard"]) == (passed, hard)
    assert bool(told["advice"]) is not passed


def test_haze_and_yellowness_of_a_moment_have_their_own_errors() -> None:
    moment = Moment(
        tub=12,
        taken_at=datetime(2026, 3, 1, tzinfo=UTC),
        photos=("a.jpg", "b.jpg"),
        left_out=(),
        attenuation=Joined(value=12.0, std=0.4, sound=(True, True)),
        yellowness=Joined(value=30.0, std=2.5, sound=(True, True)),
    )
    told = moment_json(moment)
    names = ("attenuation_per_m", "attenuation_std_per_m", "bone_yi_e313", "bone_yi_std")
    assert [told[name] for name in names] == [12.0, 0.4, 30.0, 2.5]


def job_of(photos: int, workers: Workers) -> ReadJob:
    return ReadJob(
        named=(),
        found=[Path(str(place)) for place in range(photos)],
        settings=ReadSettings(),
        path_mm=None,
        overlay=None,
        logbook=None,
        workers=workers,
        as_json=True,
    )


GOOD, DOUBTFUL, REFUSED = Verdict.GOOD, Verdict.DOUBTFUL, Verdict.REFUSED


@pytest.mark.parametrize(
    ("verdicts", "told"),
    [
        ((GOOD, GOOD), Verdicts(all_good=True, all_refused=False)),
        ((GOOD, DOUBTFUL), Verdicts(all_good=False, all_refused=False)),
        ((GOOD, REFUSED), Verdicts(all_good=False, all_refused=False)),
        ((REFUSED, REFUSED), Verdicts(all_good=False, all_refused=True)),
    ],
)
def test_one_bad_photo_is_enough_not_to_be_good_and_not_to_be_refused(
    monkeypatch: pytest.MonkeyPatch, verdicts: tuple[Verdict, ...], told: Verdicts
) -> None:
    monkeypatch.setattr(read_job, "standards_in_force", lambda settings, _: settings)
    readings = [(make_reading(str(place), verdict=one),) for place, one in enumerate(verdicts)]
    workers = SimpleNamespace(map=lambda *_: iter(readings))
    assert show_photos(job_of(len(readings), cast("Workers", workers))) == told


def one(outcome: Outcome) -> Logged:
    verdict = REFUSED if outcome is Outcome.REFUSED else GOOD
    reading = make_reading(verdict=verdict)
    return Logged(path=Path("one.jpg"), outcome=outcome, reading=reading, tub=12)


@pytest.mark.parametrize(
    ("outcomes", "told"),
    [
        ((Outcome.LOGGED, Outcome.KNOWN), Verdicts(all_good=True, all_refused=False)),
        ((Outcome.LOGGED, Outcome.REFUSED), Verdicts(all_good=False, all_refused=False)),
        ((Outcome.REFUSED, Outcome.REFUSED), Verdicts(all_good=False, all_refused=True)),
    ],
)
@pytest.mark.parametrize("again", [False, True])
def test_what_is_wanted_reaches_the_log_and_every_outcome_counts(
    book: Logbook,
    monkeypatch: pytest.MonkeyPatch,
    outcomes: tuple[Outcome, ...],
    told: Verdicts,
    again: bool,
) -> None:
    """What was drawn before is kept where photos are read again."""
    drawn: dict[str, tuple[Drawn, ...]] = {"digest": ()}
    asked: list[tuple[LogSettings, object]] = []

    def log_all(
        _: Logbook, __: object, work: partial[object], keep: LogSettings, ___: object
    ) -> tuple[Logged, ...]:
        asked.append((keep, work.keywords["settings"].drawn_before))
        return tuple(map(one, outcomes))

    monkeypatch.setattr("greasecheck.cli.photos.read_log.log_all", log_all)
    monkeypatch.setattr(read_job, "drawn_by_photo", lambda _: drawn)
    job = replace(job_of(2, cast("Workers", None)), logbook=book.path)
    shift = timedelta(hours=2)
    assert log_photos(job, Wanted(skull=None, shift=shift, again=again, watch=False)) == told
    nothing = ReadSettings().drawn_before
    expected = LogSettings(skull=None, shift=shift, again=again)
    assert asked == [(expected, drawn if again else nothing)]
