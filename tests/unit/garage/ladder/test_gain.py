from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.garage.ladder.gain import (
    GainSeen,
    _given,
    ladder_gain,
    nearest,
    shares_gain,
    with_gain,
)
from greasecheck.garage.series import haze_readings
from greasecheck.model import Bound, ReadingKind
from greasecheck.reference.ladder.slopes import slope_law
from tests.unit.report.season_samples import logged

if TYPE_CHECKING:
    from greasecheck.logbook.records import LoggedReading

START = datetime(2026, 1, 1, tzinfo=UTC)


def ladder(haze: float, decay: float, day: float = 0, std: float | None = None) -> LoggedReading:
    return replace(
        logged(haze=haze, bone=None),
        key=f"{day}:ladder-12",
        kind=ReadingKind.LADDER,
        attenuation_std_per_m=0.25 * haze if std is None else std,
        decay_per_m=decay,
        decay_std_per_m=0.05,
        taken_at=START + timedelta(days=day),
    )


def jar(haze: float, day: float = 0) -> LoggedReading:
    return replace(
        logged(haze=haze, bone=None),
        key=f"jar{day}",
        attenuation_std_per_m=0.04 * haze,
        taken_at=START + timedelta(days=day, hours=1),
    )


def test_without_any_help_the_gain_is_that_of_all_waters() -> None:
    for decay in (0.5, 1.0, 3.0, 10.0):
        log_gain, log_std = ladder_gain([]).at(decay)
        assert abs(log_gain) < log_std
        assert 0.15 < log_std < 0.5


def test_a_jar_beside_the_ladder_sets_the_gain() -> None:
    readings = [ladder(2.0, 2.0), jar(3.0), ladder(1.0, 1.0, day=1)]
    gain = ladder_gain(readings)
    assert gain.jars == 1
    assert gain.at(2.0)[1] < ladder_gain(readings[:1]).at(2.0)[1]
    calibrated = with_gain(readings[2], gain)
    assert 1.1 < (calibrated.attenuation_per_m or 0) < 1.5


def test_a_jar_dipped_at_once_counts_more_than_one_hours_later() -> None:
    soon, late = (
        ladder_gain([ladder(2.0, 2.0), replace(jar(3.0), taken_at=START + timedelta(hours=hours))])
        for hours in (0, 5)
    )
    assert soon.at(2.0)[1] < late.at(2.0)[1]
    assert soon.at(2.0)[0] > late.at(2.0)[0] > ladder_gain([ladder(2.0, 2.0)]).at(2.0)[0]


def test_what_a_jar_shows_counts_less_far_from_its_haze() -> None:
    gain = ladder_gain([ladder(2.0, 2.0), jar(3.0)])
    assert gain.at(2.0)[1] < min(gain.at(0.3)[1], gain.at(10.0)[1])


def test_signs_of_many_photos_are_hardly_surer_than_those_of_one() -> None:
    one, many = (
        ladder_gain([ladder(2.0, 1.6, day=n, std=0.4) for n in range(count)]).at(1.6)
        for count in (1, 40)
    )
    assert 0 < one[0] < np.log(2.0 / 1.6)
    assert many == pytest.approx(one, abs=0.01)


def test_a_decay_that_is_less_sure_makes_no_gain_surer() -> None:
    sure, unsure = (
        ladder_gain([replace(ladder(2.0, 1.6, std=0.4), decay_std_per_m=std)]).at(1.6)[1]
        for std in (0.05, 0.35)
    )
    assert unsure > sure


def test_a_jar_of_another_day_is_no_pair() -> None:
    assert ladder_gain([ladder(2.0, 2.0), jar(3.0, day=3)]).jars == 0


def test_murky_readings_set_the_gain_of_clear_ones() -> None:
    murky = [ladder(14.0, 10.0, day=n, std=1.0) for n in range(4)]
    gain = ladder_gain(murky)
    assert gain.murky == 4
    log_gain, log_std = gain.at(10.0)
    assert np.exp(log_gain) == pytest.approx(1.4, rel=0.06)
    assert 0.05 < log_std < 0.12
    assert log_std < gain.at(1.0)[1] < ladder_gain([]).at(1.0)[1]
    assert with_gain(murky[0], gain) == murky[0]


def test_what_murky_readings_share_counts_once() -> None:
    """A normal law given one value: precisions add (Rao 1973, 8a.2)."""
    seen = GainSeen(decay_per_m=10.0, log_gain=0.3, log_std=0.03, shared_log_std=0.06)
    for law in slope_law().gains:
        before, after = (one.covariance[0, 0] for one in (law, _given(law, [[seen]])))
        noise = seen.log_std**2 + seen.shared_log_std**2 + law.photo_log_std**2
        assert 1 / after == pytest.approx(1 / before + 1 / noise)
        many = _given(law, [[seen] * 1000]).covariance[0, 0]
        assert 1 / many == pytest.approx(1 / before + seen.shared_log_std**-2, rel=1e-2)


def test_a_gain_makes_the_kinds_of_water_likelier_that_have_it() -> None:
    """Odds of two normal laws: shares times densities (Bayes; Rao 1973, 8a.2)."""
    high = GainSeen(decay_per_m=10.0, log_gain=1.2, log_std=0.05, shared_log_std=0.0)
    pale, dark = (_given(law, [[high]]).log_share - law.log_share for law in slope_law().gains[1:])
    assert dark > pale + 5.0


def test_the_nearest_of_several_readings_is_compared() -> None:
    dipped = jar(3.0)  # an hour after the start
    early, late, soon = (ladder(2.0, 2.0, day=hours / 24) for hours in (-4, 6, 2))
    assert nearest(dipped, [early, late, soon]) == [soon]
    assert nearest(dipped, [ladder(2.0, 2.0, day=1)]) == []


def test_jar_and_ladder_of_one_moment_stay_two_readings() -> None:
    dipped = replace(jar(3.0), taken_at=START)
    assert len(haze_readings([dipped, ladder(2.0, 2.0), ladder(2.1, 2.1, day=1 / 86_400)])) == 2


def test_photos_of_one_moment_share_the_gain_of_the_least_sure() -> None:
    pair = [ladder(0.5, 0.5), ladder(3.0, 3.0, day=1 / 86_400)]
    [joined] = haze_readings(pair)
    errors = [ladder_gain(pair).at(decay)[1] for decay in (0.5, 3.0)]
    assert joined.log_gain_std == max(errors) > min(errors)


def test_a_decay_lost_in_its_noise_is_a_bound() -> None:
    lost = replace(ladder(0.3, 0.02), bound=Bound.BELOW)
    found = with_gain(lost, ladder_gain([]))
    assert found.bound is Bound.BELOW
    assert 0.1 < (found.attenuation_per_m or 0) < 0.4


def test_the_forecast_is_told_what_the_readings_share() -> None:
    readings = [ladder(2.0, 2.0, day=0), ladder(1.0, 1.0, day=1), jar(3.0, day=5)]
    found = haze_readings(readings)
    shared = [ladder_gain(readings).at(decay)[1] for decay in (2.0, 1.0)]
    assert [one.log_gain_std for one in found] == [*shared, 0.0]
    assert {one.instrument for one in found} == {readings[0].tub}
    assert not shares_gain(jar(3.0))


@pytest.mark.parametrize("share", [0.2, 0.26, 0.2718, 0.2719, 0.3])
def test_an_unsure_reading_among_sure_ones_hardly_moves_the_gain(share: float) -> None:
    sure = [ladder(3.0, 2.5, day, std=0.5) for day in range(4)]
    unsure = ladder(3.0, 2.5, 9, std=3.0 * share)
    alone, together = ladder_gain(sure).at(2.5), ladder_gain([*sure, unsure]).at(2.5)
    assert together[0] == pytest.approx(alone[0], abs=0.3 * alone[1])
    assert together[1] == pytest.approx(alone[1], rel=0.1)


def test_a_haze_of_nothing_is_no_sign() -> None:
    nothing = ladder_gain([ladder(0.0, 2.5)])
    assert np.array_equal(nothing.mean, ladder_gain([]).mean)
