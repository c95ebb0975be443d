from __future__ import annotations

import numpy as np
import pytest

from greasecheck.errors import ForecastError
from greasecheck.model import BodyCondition
from greasecheck.predict.fit.done_prior import DoneTime, shared_covariance, skull_time
from greasecheck.predict.records import FinishedTub
from greasecheck.predict.tables import known_species, species_range, spread


def _median(time: DoneTime) -> float:
    return float(np.exp(time.log_mean))


# common practice, no source: easy species some weeks, deer 3-4 months, most 5-6, bear and hog more
@pytest.mark.parametrize(
    ("species", "low", "high"),
    [("fox", 14, 70), ("deer", 90, 122), ("elk", 150, 183), ("bear", 180, 365), ("hog", 180, 365)],
)
def test_table_says_what_the_trade_says(species: str, low: float, high: float) -> None:
    assert low <= _median(skull_time(species)) <= high


def test_a_species_not_in_the_table_counts_as_unknown() -> None:
    assert species_range("okapi") == species_range("unknown")
    assert "deer" in known_species()


def test_own_tubs_pull_the_table_and_narrow_it() -> None:
    table = skull_time("deer")
    for count in (1, 5, 20):
        pooled = skull_time("deer", [FinishedTub(species="deer", days=180.0)] * count)
        assert _median(table) < _median(pooled) < 180.0
        assert pooled.log_std < table.log_std
    many = skull_time("deer", [FinishedTub(species="deer", days=180.0)] * 500)
    assert _median(many) == pytest.approx(180.0, rel=0.01)
    assert many.log_std == pytest.approx(many.scatter_log_std, rel=0.02)


@pytest.mark.parametrize("days", [0.0, -3.0, np.nan, np.inf])
def test_a_finished_tub_that_took_no_time_is_refused(days: float) -> None:
    with pytest.raises(ForecastError, match="took no time"):
        skull_time("deer", [FinishedTub(species="deer", days=days)])


def test_other_species_are_pulled_less() -> None:
    slow = [FinishedTub(species="deer", days=180.0)] * 5
    own, other = skull_time("deer", slow), skull_time("elk", slow)
    pull_own = own.log_mean - skull_time("deer").log_mean
    pull_other = other.log_mean - skull_time("elk").log_mean
    assert 0 < pull_other < pull_own


def test_fat_animals_take_longer_and_lean_ones_less() -> None:
    usual, fat, lean = (
        _median(skull_time("bear", condition=condition))
        for condition in (BodyCondition.UNKNOWN, BodyCondition.FAT, BodyCondition.LEAN)
    )
    assert lean < usual < fat
    assert usual**2 == pytest.approx(lean * fat)


def test_skulls_of_one_tub_share_the_practice_and_no_more() -> None:
    own = [FinishedTub(species="deer", days=120.0)] * 200
    table, known = skull_time("deer"), skull_time("deer", own)
    shared = shared_covariance([table, table])
    assert 0 < shared[0, 1] < shared[0, 0] == pytest.approx(table.log_std**2)
    assert shared_covariance([known, known])[0, 1] < 0.1 * shared[0, 1]


def test_many_finished_tubs_weigh_as_the_whole_covariance_says() -> None:
    """Correlated normal variables, tub by tub: Rasmussen & Williams (2006), equation A.6."""
    chance = np.random.default_rng(2)
    species = [str(chance.choice(["deer", "fox", "badger"])) for _ in range(30)]
    tubs = [FinishedTub(species=one, days=float(chance.uniform(20, 300))) for one in species]
    tables = [skull_time(one) for one in species]
    alike = np.array(species)[:, None] == np.array(species)
    user = spread("user_offset_share").log_std ** 2
    own = spread("species_offset_share").log_std ** 2
    scatter = np.diag([table.scatter_log_std**2 for table in tables])
    gain = np.linalg.solve(user + own * alike + scatter, user + own * (np.array(species) == "fox"))
    misses = np.log([tub.days for tub in tubs]) - [table.log_mean for table in tables]
    pooled = skull_time("fox", tubs)
    assert pooled.log_mean == pytest.approx(skull_time("fox").log_mean + gain @ misses)
    left = user + own - gain @ (user + own * (np.array(species) == "fox"))
    assert pooled.shared_log_std == pytest.approx(np.sqrt(left))
