"""Coverage, skill and bias of the risk of yellowing over invented skulls with known risk.

Run with `python -m tests.benchmarks.yellowing_risk [--quick] [--users N]`.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from greasecheck.predict.yellowing.prior import follow_up_rule, sign_priors
from greasecheck.predict.yellowing.records import FinishedSkull, Look, Measured, Signs
from greasecheck.predict.yellowing.regression import learn_yellowing
from greasecheck.predict.yellowing.risk import follow_up_values, yellowing_risk
from greasecheck.reference.advice import advice_value

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.predict.yellowing.regression import YellowingModel

    FloatArray = NDArray[np.float64]

COUNTS = (0, 10, 30, 100)
TEST_SKULLS = 40
PROBABILITIES = (0.5, 0.8, 0.95)
READ_STDS = np.array([0.02, 0.8, 0.4, 0.02, 0.05, 0.0])
MISSING_PROBABILITY = 0.15


class Truth(StrEnum):
    """How the invented skulls really yellow."""

    PRIOR = "effects drawn from the prior"
    OFTEN = "yellows much more often than assumed"
    NO_EFFECT = "the signs tell nothing"
    REVERSED = "soak and patches act the other way"


class Looking(StrEnum):
    """Which finished skulls are looked at later."""

    ALL = "all are looked at"
    GREASY_GO_HOME = "greasy ones mostly go home unseen"
    EARLY = "all, at any day of the first 90"


@dataclass(frozen=True, slots=True, kw_only=True)
class Invented:
    """A skull as known, and its true risk."""

    skull: FinishedSkull
    risk: float


def true_effects(truth: Truth, generator: np.random.Generator) -> FloatArray:
    """Return the log odds of the usual skull and of one spread of each sign."""
    priors = sign_priors()
    chance = generator.standard_normal(len(priors.effect_means))
    effects: FloatArray = priors.effect_means + priors.effect_stds * chance
    if truth is Truth.OFTEN:
        effects[0] = 0.5
    elif truth is Truth.NO_EFFECT:
        effects = np.append(-1.0, np.zeros(len(effects) - 1))
    elif truth is Truth.REVERSED:
        effects = np.array([-1.5, 0.8, 0.6, 0.4, -0.4, 0.4, 0.0])
    return effects


def invent_skulls(
    effects: FloatArray, count: int, looking: Looking, generator: np.random.Generator
) -> list[Invented]:
    """Invent finished skulls with their looks."""
    return [_invent(effects, looking, number, generator) for number in range(count)]


def _invent(
    effects: FloatArray, looking: Looking, number: int, generator: np.random.Generator
) -> Invented:
    priors = sign_priors()
    z = generator.standard_normal(len(priors.names))
    z[-1] = (float(generator.random() < 0.7) - priors.centres[-1]) / priors.spreads[-1]
    risk = float(special.expit(effects[0] + effects[1:] @ z))
    read = priors.centres + priors.spreads * z + READ_STDS * generator.standard_normal(len(z))
    signs = Signs(
        **{
            name: None
            if generator.random() < MISSING_PROBABILITY
            else Measured(value=float(value), std=float(std))
            for name, value, std in zip(priors.names, read, READ_STDS, strict=True)
        }
    )
    looks = _looks(risk, bool(z[0] > 0), looking, generator)
    return Invented(
        skull=FinishedSkull(name=f"skull {number}", signs=signs, looks=looks), risk=risk
    )


def _looks(
    risk: float, greasy: bool, looking: Looking, generator: np.random.Generator
) -> tuple[Look, ...]:
    rule = follow_up_rule()
    if looking is Looking.GREASY_GO_HOME and generator.random() < (0.8 if greasy else 0.1):
        return ()
    onset = rule.onset_median_days * np.exp(rule.onset_log_std * generator.standard_normal())
    first = 2.0 if looking is Looking.EARLY else rule.first_day
    day = float(generator.uniform(first, advice_value("follow_up_last_days")))
    yellow = bool(generator.random() < risk and onset < day)
    return (Look(days=day, yellowed=yellow),)


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """How risks compare with the truth; `bias` and errors as differences of probabilities."""

    coverage: tuple[float, ...]
    bias: float
    error: float
    base_rate_error: float


def score(
    truth: Truth, looking: Looking, count: int, users: int, test_skulls: int = TEST_SKULLS
) -> Score:
    """Return how well risks are told after `count` skulls, over many invented users."""
    held, misses, base_misses = [], [], []
    for user in range(users):
        generator = np.random.default_rng((user, count, list(Truth).index(truth)))
        effects = true_effects(truth, generator)
        known = [one.skull for one in invent_skulls(effects, count, looking, generator)]
        model = learn_yellowing(known)
        base_rate = (model.yellowed + 0.5) / (model.outcomes + 4)
        for one in invent_skulls(effects, test_skulls, looking, generator):
            found = yellowing_risk(model, replace(one.skull, looks=()))
            held.append([part.low <= one.risk <= part.high for part in found.intervals])
            misses.append(found.probability - one.risk)
            base_misses.append(base_rate - one.risk)
    return Score(
        coverage=tuple(float(share) for share in np.mean(held, axis=0)),
        bias=float(np.mean(misses)),
        error=float(np.sqrt(np.mean(np.square(misses)))),
        base_rate_error=float(np.sqrt(np.mean(np.square(base_misses)))),
    )


def error_after_photos(users: int, photos: int, *, chosen: bool) -> float:
    """Return the error of risks after photos of the most telling skulls, or of any."""
    misses: list[float] = []
    for user in range(users):
        generator = np.random.default_rng((user, 7))
        effects = true_effects(Truth.PRIOR, generator)
        pool = [one.skull for one in invent_skulls(effects, 80, Looking.ALL, generator)]
        model = _look_at(pool, photos, chosen=chosen)
        misses += [
            yellowing_risk(model, replace(one.skull, looks=())).probability - one.risk
            for one in invent_skulls(effects, TEST_SKULLS, Looking.ALL, generator)
        ]
    return float(np.sqrt(np.mean(np.square(misses))))


def _look_at(pool: list[FinishedSkull], photos: int, *, chosen: bool) -> YellowingModel:
    """Look at skulls five at a time, each time at the most telling ones or at the next."""
    seen: list[FinishedSkull] = []
    model = learn_yellowing(seen)
    while len(seen) < photos:
        names = {skull.name for skull in seen}
        unseen = [replace(skull, looks=()) for skull in pool if skull.name not in names]
        order = [skull.name for skull in unseen]
        if chosen:
            days = [60.0] * len(unseen)
            order = [value.name for value in follow_up_values(model, unseen, days)]
        seen += [skull for skull in pool if skull.name in order[:5]]
        model = learn_yellowing(seen)
    return model


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--users", type=int, default=100)
    options = parser.parse_args()
    users = 2 if options.quick else options.users
    print(f"{'truth; looking':75s} skulls  50 %  80 %  95 %   bias  error  base rate's")
    for truth, looking in (
        *((truth, Looking.ALL) for truth in Truth),
        (Truth.PRIOR, Looking.GREASY_GO_HOME),
        (Truth.PRIOR, Looking.EARLY),
    ):
        for count in COUNTS:
            found = score(truth, looking, count, users)
            held = " ".join(f"{share:5.2f}" for share in found.coverage)
            print(
                f"{truth + '; ' + looking:75s} {count:5d}  {held}  {found.bias:+5.2f}"
                f"  {found.error:5.3f}  {found.base_rate_error:5.3f}",
                flush=True,
            )
    for photos in (10, 20):
        errors = [error_after_photos(users, photos, chosen=chosen) for chosen in (True, False)]
        print(f"error after {photos} photos: most telling {errors[0]:.4f}, any {errors[1]:.4f}")


if __name__ == "__main__":
    main()
