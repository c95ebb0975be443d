"""Importance sampling, with and without the ridge, against a long Markov chain.

Run with `python -m tests.benchmarks.forecast_sampler [--quick] [--tubs N]`. Prints how far the
quantiles of the log clear time lie from the chain's, in the chain's standard deviations.
"""

from __future__ import annotations

import argparse
from datetime import timedelta
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.fit.posterior import FormFit, log_posterior
from greasecheck.predict.fit.sampling import adaptive_draws
from greasecheck.predict.fit.tub_fit import fit_tub
from greasecheck.predict.model.kinetics import Form
from tests.synthetic.tub_simulator import START, Truth, simulate_tub

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]

PROBABILITIES = (0.025, 0.1, 0.5, 0.9, 0.975)
WALKERS, AGE_DAYS = 300, 60
SNOOKER_EVERY = 10


def chain_draws(
    log_target: Callable[[FloatArray], FloatArray], start: FloatArray, sweeps: int
) -> FloatArray:
    """Run differential evolution Markov chains; return the second half, shape (p, draws).

    C. J. F. ter Braak, Statistics and Computing 16, 239 (2006).
    """
    generator = np.random.default_rng(1)
    size, walkers = start.shape
    x, height, kept = start, log_target(start), []
    for sweep in range(sweeps):
        one, two = generator.integers(0, walkers, (2, walkers))
        stride = 1.0 if sweep % SNOOKER_EVERY == 0 else 2.38 / np.sqrt(2 * size)
        trial = x + stride * (x[:, one] - x[:, two]) + 1e-4 * generator.standard_normal(x.shape)
        trial_height = log_target(trial)
        taken = np.log(generator.random(walkers)) < trial_height - height
        x, height = np.where(taken, trial, x), np.where(taken, trial_height, height)
        if sweep >= sweeps // 2:
            kept.append(x)
    return np.hstack(kept)


def weighted_quantiles(values: FloatArray, weights: FloatArray) -> FloatArray:
    """Return the quantiles of weighted draws."""
    order = np.argsort(values)
    reached = np.cumsum(weights[order])
    return values[order][np.searchsorted(reached, PROBABILITIES)]


def compare(seed: int, sweeps: int) -> tuple[FloatArray, FloatArray]:
    """Return the errors of the quantiles without and with the ridge, in standard deviations."""
    tub = simulate_tub(np.random.default_rng(seed), Truth.TWO_POOLS)
    fit = fit_tub(tub.history, START + timedelta(days=AGE_DAYS))
    part = next(part for part in fit.fits if part.peak.parameters.form is Form.TWO_POOLS)
    target = partial(log_posterior, fit.timeline, part.peak.parameters, fit.whitening)
    chain = chain_draws(target, _start(part), sweeps)[0]
    plain = adaptive_draws(target, [part.peak.proposal], np.random.default_rng(2))
    truth = np.quantile(chain, PROBABILITIES)
    found = [weighted_quantiles(d.points[0], d.weights) for d in (plain, part.draws)]
    return (found[0] - truth) / chain.std(), (found[1] - truth) / chain.std()


def _start(part: FormFit) -> FloatArray:
    chosen = np.random.default_rng(3).choice(
        part.draws.points.shape[1], WALKERS, p=part.draws.weights
    )
    return part.draws.points[:, chosen]


def main() -> None:
    """Print the errors of each quantile."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--tubs", type=int, default=12)
    options = parser.parse_args()
    tubs, sweeps = (2, 40) if options.quick else (options.tubs, 1200)
    errors = np.array([compare(700 + seed, sweeps) for seed in range(tubs)])
    print("root-mean-square error of quantiles of the clear time, in standard deviations")
    print("quantile     " + " ".join(f"{p:6.3f}" for p in PROBABILITIES))
    for row, name in enumerate(("one proposal", "with ridge")):
        print(
            f"{name:12s} " + " ".join(f"{e:6.2f}" for e in np.sqrt((errors[:, row] ** 2).mean(0)))
        )


if __name__ == "__main__":
    main()
