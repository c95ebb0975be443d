from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from greasecheck.errors import LogbookError
from greasecheck.garage.ladder.eye import bars_by_eye, eye_gain, reading_by_eye, with_eye_gain
from greasecheck.logbook.records import LoggedReading
from greasecheck.model import Bound, ReadingKind, Verdict
from greasecheck.reference.ladder.eye import eye_law
from tests.unit.report.season_samples import logged

START = datetime(2026, 1, 1, tzinfo=UTC)


def seen(last_bar_mm: float, day: float = 0) -> LoggedReading:
    made = reading_by_eye(12, START + timedelta(days=day), last_bar_mm)
    return replace(
        logged(bone=None),
        key=f"hand:12:{day}",
        kind=ReadingKind.EYE,
        attenuation_per_m=made.attenuation_per_m,
        attenuation_std_per_m=made.attenuation_std_per_m,
        bound=made.bound,
        taken_at=made.taken_at,
    )


def jar(haze: float, day: float) -> LoggedReading:
    return replace(
        logged(haze=haze, bone=None),
        key=f"jar{day}",
        attenuation_std_per_m=0.04 * haze,
        taken_at=START + timedelta(days=day, hours=1),
    )


def log_std(reading: LoggedReading) -> float:
    return (reading.attenuation_std_per_m or 0.0) / (reading.attenuation_per_m or 1.0)


def test_deeper_bars_are_clearer_water_and_the_error_is_wide() -> None:
    hazes = [seen(bar).attenuation_per_m or 0.0 for bar in range(20, 170, 10)]
    assert all(np.diff(hazes) < 0)
    assert all(log_std(seen(bar)) > 0.25 for bar in range(20, 170, 10))


def test_contrast_fades_no_faster_than_the_beam_and_no_slower_than_a_third_of_it() -> None:
    # Contrast fades by the beam attenuation where no scattered light helps (Duntley 1948, J. Opt.
    # Soc. Am. 38, 179), from 0.9 to 0.018 here, along a path 1.2 times the depth.
    optical = np.log(0.9 / 0.018) / 1.2
    for depth_mm in (40.0, 60.0, 100.0, 150.0):
        product = eye_law().haze_per_m(depth_mm) * depth_mm / 1000
        assert optical < product < 3 * optical


def test_none_and_all_bars_are_bounds() -> None:
    none, whole = seen(0), seen(170)
    assert (none.bound, whole.bound) == (Bound.ABOVE, Bound.BELOW)
    assert (none.attenuation_per_m or 0.0) < (seen(10).attenuation_per_m or 0.0)
    assert (whole.attenuation_per_m or 0.0) > (seen(160).attenuation_per_m or 0.0)
    assert bars_by_eye()[0] == 0
    assert bars_by_eye()[-1] == 170


def test_what_lies_past_the_last_number_but_one_is_a_bound() -> None:
    assert [seen(bar).bound for bar in (160, 161, 169)] == [None, Bound.BELOW, Bound.BELOW]


@pytest.mark.parametrize("bar", [-1.0, 171.0, float("nan")])
def test_a_bar_that_is_not_there_is_refused(bar: float) -> None:
    with pytest.raises(LogbookError, match="no bar"):
        reading_by_eye(12, START, bar)


def test_pairs_with_a_jar_calibrate_the_eye() -> None:
    readings = [seen(40, 0), jar(150, 0), seen(60, 5), jar(115, 5), seen(50, 9)]
    gain = eye_gain(readings)
    assert gain.log_std < eye_law().log_std / 2
    last = with_eye_gain(readings)[-1]
    assert (last.attenuation_per_m or 0.0) > 1.2 * (readings[-1].attenuation_per_m or 0.0)
    assert log_std(last) < log_std(readings[-1])


@pytest.mark.parametrize(("verdict", "pairs"), [(Verdict.GOOD, True), (Verdict.DOUBTFUL, False)])
def test_a_doubtful_ladder_calibrates_no_eye(verdict: Verdict, pairs: bool) -> None:
    ladder = replace(jar(150, 0), kind=ReadingKind.LADDER, verdict=verdict)
    assert (eye_gain([seen(40, 0), ladder]).log_gain != 0) is pairs


def test_many_looks_weigh_no_more_than_what_they_share_allows() -> None:
    looks = [seen(50, day) for day in range(25)]
    calibrated = with_eye_gain(looks)
    together = 1 / np.sqrt(sum(1 / log_std(one) ** 2 for one in calibrated))
    assert together >= eye_law().log_std
