from __future__ import annotations

import numpy as np
import pytest

from greasecheck.predict.fit.clear_prior import ClearTime, skull_time, slowest_time
from greasecheck.predict.records import FinishedTub
from greasecheck.predict.tables import known_species, species_range, spread


def _median(time: ClearTime) -> float:
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


def test_other_species_are_pulled_less() -> None:
    slow = [FinishedTub(species="deer", days=180.0)] * 5
    own, other = skull_time("deer", slow), skull_time("elk", slow)
    pull_own = own.log_mean - skull_time("deer").log_mean
    pull_other = other.log_mean - skull_time("elk").log_mean
    assert 0 < pull_other < pull_own


def test_slowest_of_two_alike_follows_the_law_of_the_maximum() -> None:
    # the larger of two independent standard normals: mean 1/sqrt(pi), variance 1 - 1/pi
    # (David & Nagaraja, Order Statistics, from memory)
    one = ClearTime(log_mean=5.0, scatter_log_std=0.4, shared_log_std=0.3)
    two = slowest_time([one, one])
    assert two.log_mean == pytest.approx(5.0 + 0.4 / np.sqrt(np.pi), abs=1e-4)
    assert two.scatter_log_std == pytest.approx(0.4 * np.sqrt(1 - 1 / np.pi), abs=1e-4)
    assert slowest_time([one]) is one


def test_a_far_slower_skull_rules() -> None:
    slow = skull_time("bear")
    assert slowest_time([skull_time("mink"), slow]).log_mean == pytest.approx(
        slow.log_mean, abs=0.01
    )


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
