"""What readings differ by: covariance, weights and sizes, derived a second time."""

from __future__ import annotations

from dataclasses import astuple, fields, replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy import optimize, special, stats

from greasecheck.model import Bound
from greasecheck.predict.fit.done_prior import skull_time
from greasecheck.predict.fit.likelihood import expected_of, log_likelihood, white_residuals
from greasecheck.predict.fit.noise import (
    Expected,
    Noise,
    apart_std,
    usual_noise,
    whiten,
    whiten_apart,
)
from greasecheck.predict.fit.parameters import Parameters
from greasecheck.predict.model.history import build_timeline
from greasecheck.predict.model.kinetics import Form
from greasecheck.predict.records import HazeReading, SoakingSkull, TubHistory, WaterChange
from greasecheck.predict.tables import spread

if TYPE_CHECKING:
    from greasecheck.model import FloatArray
    from greasecheck.predict.model.timeline import Timeline

START = datetime(2026, 1, 1, tzinfo=UTC)
RNG = np.random.default_rng(11)
COUNT = 24
DAYS = np.arange(COUNT) + 0.7
FRESH = np.full(COUNT, 2.0)
RISE = 6.0 * np.exp(-DAYS / 20) * (0.3 + DAYS % 3)
BLOOM = np.asarray(0.2 * (DAYS % 3), dtype=np.float64)
GAIN = np.where(np.arange(COUNT) % 4 == 0, 0.2, 0.0)
SEEN = (FRESH + RISE + BLOOM) * RNG.normal(1, 0.08, COUNT) * (1 + 0.15 * np.sin(DAYS // 3))
EXPECTED = Expected(fresh=FRESH, rise=RISE, bloom=BLOOM)


def timeline_of(bounds: dict[int, Bound] | None = None, odd: float = 1.0) -> Timeline:
    marked = bounds or {}
    readings = tuple(
        HazeReading(
            at=START + timedelta(days=float(day)),
            attenuation_per_m=float(haze) * (odd if n == 7 else 1.0),
            std_per_m=0.05 + 0.01 * n,
            log_gain_std=float(GAIN[n]),
            bound=marked.get(n),
        )
        for n, (day, haze) in enumerate(zip(DAYS, SEEN, strict=True))
    )
    history = TubHistory(
        skulls=(SoakingSkull(name="deer", species="deer", since=START),),
        changes=tuple(WaterChange(at=START + timedelta(days=3 * n)) for n in range(8)),
        readings=readings,
    )
    return build_timeline(history, START + timedelta(days=25))


def covariance(timeline: Timeline, noise: Noise, weights: FloatArray) -> FloatArray:
    """Sum up the parts of the text, reading by reading."""
    seen = timeline.observations
    whole = np.zeros((COUNT, COUNT))
    for i in range(COUNT):
        for j in range(COUNT):
            rises = RISE[i] * RISE[j]
            apart_days = abs(DAYS[i] - DAYS[j])
            whole[i, j] = noise.drift**2 * rises * np.exp(-apart_days / 30)
            gain_i, gain_j = GAIN[i] * EXPECTED.haze[i], GAIN[j] * EXPECTED.haze[j]
            whole[i, j] += gain_i * gain_j
            if DAYS[i] // 3 == DAYS[j] // 3:  # one bath
                whole[i, j] += noise.fresh**2 * 4.0 + noise.pace**2 * rises
                whole[i, j] += 0.25 * BLOOM[i] * BLOOM[j]
        own = seen.std_per_m[i] ** 2 + 0.1**2 + noise.scatter**2 * EXPECTED.haze[i] ** 2
        whole[i, i] += own / weights[i]
    return whole


def evidence(timeline: Timeline, noise: Noise, weights: FloatArray) -> float:
    whole = covariance(timeline, noise, weights)
    missed = timeline.observations.haze_per_m - EXPECTED.haze
    normal = stats.multivariate_normal(np.zeros(COUNT), whole).logpdf(missed)
    for part in fields(Noise):
        prior = spread(f"{part.name}_share")
        z = np.log(getattr(noise, part.name) / prior.median) / prior.log_std
        normal -= z**2 / 2
    return float(normal)


@pytest.mark.parametrize("odd", [1.0, 2.5])
def test_covariance_and_weights_are_those_of_the_text(odd: float) -> None:
    timeline = timeline_of(odd=odd)
    found = whiten(timeline.observations, EXPECTED)
    whole = covariance(timeline, found.noise, found.weights)
    assert found.root @ whole @ found.root.T == pytest.approx(np.eye(COUNT), abs=1e-8)
    assert (found.weights.min() < 0.6) == (odd > 1)
    assert found.weights.max() == 1


def test_the_learnt_sizes_are_the_most_probable_ones() -> None:
    timeline = timeline_of(odd=2.5)
    found = whiten(timeline.observations, EXPECTED)
    best = evidence(timeline, found.noise, found.weights)
    for part in fields(Noise):
        size = getattr(found.noise, part.name)
        for factor in (np.exp(0.3), np.exp(-0.3)):
            moved = replace(found.noise, **{part.name: size * factor})
            assert evidence(timeline, moved, found.weights) <= best + 2e-3
    assert best > evidence(timeline, usual_noise(), found.weights) + 0.5


def learnt(timeline: Timeline, weights: FloatArray) -> Noise:
    """Return the most probable sizes by a search that uses no slope."""

    def noise_of(logs: FloatArray) -> Noise:
        scatter, fresh, pace, drift = np.exp(logs)
        return Noise(scatter=scatter, fresh=fresh, pace=pace, drift=drift)

    found = optimize.minimize(
        lambda logs: -evidence(timeline, noise_of(logs), weights),
        np.log(astuple(usual_noise())),
        method="Nelder-Mead",
        options={"xatol": 1e-3, "fatol": 1e-6},
    )
    return noise_of(found.x)


@pytest.mark.parametrize("odd", [1.0, 2.5])
def test_sizes_and_weights_settle_in_two_turns(odd: float) -> None:
    """A reading counts as a t of four degrees says of it, left out of the others."""
    timeline = timeline_of(odd=odd)
    missed = timeline.observations.haze_per_m - EXPECTED.haze
    weights, noise = np.ones(COUNT), usual_noise()
    for _ in range(2):
        inverse = np.linalg.inv(covariance(timeline, noise, weights))
        weights = np.minimum(5 / (4 + (inverse @ missed) ** 2 / np.diag(inverse)), 1)
        noise = learnt(timeline, weights)
    found = whiten(timeline.observations, EXPECTED)
    assert found.weights == pytest.approx(weights, rel=0.01)
    assert np.log(astuple(found.noise)) == pytest.approx(np.log(astuple(noise)), abs=0.02)


def test_few_readings_keep_the_usual_sizes() -> None:
    timeline = timeline_of(dict.fromkeys(range(4, COUNT), Bound.BELOW))
    found = whiten(timeline.observations, EXPECTED)
    assert found.noise == usual_noise()
    assert found.plain.sum() == 4
    five = whiten(timeline_of(dict.fromkeys(range(5, COUNT), Bound.BELOW)).observations, EXPECTED)
    assert five.noise != usual_noise()


def test_each_by_itself_has_all_parts_in_squares() -> None:
    timeline = timeline_of({3: Bound.ABOVE, 5: Bound.BELOW})
    noise = Noise(scatter=0.06, fresh=0.2, pace=0.03, drift=0.02)  # 0.07 together
    seen = timeline.observations
    parts = (seen.std_per_m, 0.1, 0.07 * EXPECTED.haze, 0.2 * FRESH, GAIN * EXPECTED.haze)
    expected = np.sqrt(sum(np.asarray(part) ** 2 for part in parts))
    assert apart_std(seen, EXPECTED, noise) == pytest.approx(expected)
    alone = whiten_apart(seen, EXPECTED, noise)
    assert alone.robust
    assert np.diag(alone.root) == pytest.approx(1 / np.delete(expected, [3, 5]))
    assert alone.bound_std[:, 0] == pytest.approx(expected[[3, 5]])


@pytest.mark.parametrize("robust", [True, False])
def test_residuals_square_to_twice_the_loss(robust: bool) -> None:
    timeline = timeline_of({3: Bound.ABOVE, 5: Bound.BELOW})
    parameters = Parameters(
        form=Form.TWO_POOLS,
        done_times=(skull_time("deer"),),
        recipes=timeline.calendar.recipes,
    )
    draws = parameters.draws(np.zeros((parameters.size, 1)))
    expected = expected_of(timeline, draws)
    whitening = replace(whiten_apart(timeline.observations, expected, usual_noise()), robust=robust)
    missed = timeline.observations.haze_per_m - expected.haze
    white = whitening.root @ np.delete(missed, [3, 5])
    loss = 2.5 * np.log1p(white**2 / 4) if robust else white**2 / 2
    z = missed[[3, 5]] / whitening.bound_std[:, 0]
    # the truth lies above the one bound, and below the other
    beyond = -np.log(special.stdtr(4.0, [-z[0], z[1]]))
    found = white_residuals(timeline, draws, whitening)[:, 0]
    assert found[:-2] ** 2 / 2 == pytest.approx(loss)
    assert np.sign(found[:-2]) == pytest.approx(np.sign(white))
    assert found[-2:] == pytest.approx(np.sqrt(2 * beyond))
    total = log_likelihood(timeline, draws, whitening)
    assert total == pytest.approx([-(loss.sum() + beyond.sum())])
