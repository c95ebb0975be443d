"""Whether a finished skull will yellow later: its risk, the reasons, and what to look at."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from greasecheck.predict.yellowing_fit import SEED, YellowingModel, log_odds, mean_risk
from greasecheck.predict.yellowing_prior import follow_up_rule, sign_priors, standardise
from greasecheck.predict.yellowing_records import (
    FollowUpValue,
    RiskInterval,
    RiskReason,
    YellowingRisk,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.model import FloatArray
    from greasecheck.predict.yellowing_records import FinishedSkull, Signs

INTERVALS = (0.5, 0.8, 0.95)
NO_MATTER = 0.05  # as a share of the odds


def yellowing_risk(model: YellowingModel, signs: Signs) -> YellowingRisk:
    """Return the risk that a skull yellows later.

    Parameters
    ----------
    model : YellowingModel
        From `learn_yellowing`.
    signs : Signs
        What is known of the skull; what is not known widens the interval.

    Examples
    --------
    >>> from greasecheck.predict.yellowing_fit import learn_yellowing
    >>> from greasecheck.predict.yellowing_records import Measured, Signs
    >>> prior = learn_yellowing([])
    >>> clean = yellowing_risk(prior, Signs(yellow_patch_share=Measured(value=0.0)))
    >>> greasy = yellowing_risk(prior, Signs(yellow_patch_share=Measured(value=0.4)))
    >>> clean.probability < greasy.probability
    True
    """
    arrays = standardise((signs,))
    mean, std = log_odds(arrays, model.effects)
    chance = np.random.default_rng(SEED).standard_normal(len(model.weights))
    risks = special.expit(mean[0] + std[0] * chance)
    measured = [name for name in sign_priors().names if getattr(signs, name) is not None]
    reasons = (_reason(model, signs, arrays.means[0], name) for name in measured)
    return YellowingRisk(
        probability=float(mean_risk(arrays, model.effects)[0] @ model.weights),
        intervals=tuple(_interval(risks, model.weights, p) for p in INTERVALS),
        reasons=tuple(sorted(reasons, key=lambda one: -abs(np.log(one.odds_factor)))),
        unmeasured=tuple(name for name in sign_priors().names if name not in measured),
    )


def _interval(risks: FloatArray, weights: FloatArray, probability: float) -> RiskInterval:
    tail = (1 - probability) / 2
    order = np.argsort(risks)
    shares = np.cumsum(weights[order])
    ends = np.searchsorted(shares, (tail, 1 - tail))
    low, high = risks[order][np.minimum(ends, len(order) - 1)]
    return RiskInterval(probability=probability, low=float(low), high=float(high))


def _reason(model: YellowingModel, signs: Signs, means: FloatArray, name: str) -> RiskReason:
    priors = sign_priors()
    index = priors.names.index(name)
    measured = getattr(signs, name)
    effect = float(model.effects[1 + index] @ model.weights)
    factor = float(np.exp(effect * means[index]))
    return RiskReason(
        feature=name,
        value=measured.value,
        std=measured.std,
        odds_factor=factor,
        words=f"{priors.meanings[index]} ({measured.value:.2g}): {_bearing(factor)}",
    )


def _bearing(factor: float) -> str:
    if abs(np.log(factor)) < NO_MATTER:
        return "hardly matters"
    verb = "raises" if factor > 1 else "lowers"
    return f"{verb} the odds by a factor of {max(factor, 1 / factor):.1f}"


def follow_up_values(
    model: YellowingModel, skulls: Sequence[FinishedSkull], days_now: Sequence[float]
) -> tuple[FollowUpValue, ...]:
    """Return what a follow-up photo of each skull would teach, most telling first.

    Parameters
    ----------
    model : YellowingModel
        From `learn_yellowing`, with all looks so far.
    skulls : sequence of FinishedSkull
        Skulls at hand that were not yet seen yellow.
    days_now : sequence of float
        Days since the whitening of each; the photo is taken then, or on the first day of the
        follow-up window when that is still to come.

    Notes
    -----
    The mutual information of the photo's outcome and the effects of the signs: entropy of the
    expected chance less the expected entropy (Lindley, Ann. Math. Stat. 27, 986, 1956).
    """
    rule = follow_up_rule()
    days = np.maximum(np.array(days_now, dtype=float), rule.first_day)
    white = np.array([max((look.days for look in skull.looks), default=0.0) for skull in skulls])
    risk = mean_risk(standardise(tuple(skull.signs for skull in skulls)), model.effects)
    before, after = (rule.shown_by(when)[:, None] for when in (white, np.maximum(days, white)))
    chance = risk * (after - before) / (1 - risk * before)
    expected = chance @ model.weights
    gains = (_entropy(expected) - _entropy(chance) @ model.weights) / np.log(2)
    values = (
        FollowUpValue(
            name=skull.name,
            day=float(day),
            information_bits=float(max(gain, 0.0)),
            probability_yellow=float(yellow),
        )
        for skull, day, gain, yellow in zip(skulls, days, gains, expected, strict=True)
    )
    return tuple(sorted(values, key=lambda value: -value.information_bits))


def _entropy(chance: FloatArray) -> FloatArray:
    """Return the entropy of yes and no [nat]."""
    entropy: FloatArray = special.entr(chance) + special.entr(1 - chance)
    return entropy
