"""Whether a finished skull will yellow later: its risk, the reasons, and what to look at."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from greasecheck.predict.yellowing.prior import follow_up_rule, sign_priors, standardise
from greasecheck.predict.yellowing.records import (
    FollowUpValue,
    Outcome,
    RiskInterval,
    RiskReason,
    YellowingRisk,
)
from greasecheck.predict.yellowing.regression import log_odds, mean_risk, outcome_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.model import FloatArray
    from greasecheck.predict.yellowing.records import FinishedSkull, Signs
    from greasecheck.predict.yellowing.regression import YellowingModel

INTERVALS = (0.5, 0.8, 0.95)
CHANCES = 20  # quantiles of what is unknown of the signs, for each draw of the effects


def yellowing_risk(model: YellowingModel, skull: FinishedSkull) -> YellowingRisk:
    """Return the risk that a skull yellows later, given how it has looked so far.

    Parameters
    ----------
    model : YellowingModel
        From `learn_yellowing`.
    skull : FinishedSkull
        Signs that are not known widen the interval; a look that found it white lowers the risk,
        and one that found it yellow makes it certain.

    Raises
    ------
    ForecastError
        For a look not after the whitening.

    Examples
    --------
    >>> from greasecheck.predict.yellowing.regression import learn_yellowing
    >>> from greasecheck.predict.yellowing.records import FinishedSkull, Measured, Signs
    >>> prior = learn_yellowing([])
    >>> clean, greasy = (
    ...     FinishedSkull(name="buck", signs=Signs(yellow_patch_share=Measured(value=share)))
    ...     for share in (0.0, 0.4)
    ... )
    >>> yellowing_risk(prior, clean).probability < yellowing_risk(prior, greasy).probability
    True
    """
    arrays = standardise((skull.signs,))
    mean, std = log_odds(arrays, model.effects)
    chances = special.ndtri((np.arange(CHANCES)[:, None] + 0.5) / CHANCES)
    risks = _after_looks(special.expit(mean[0] + std[0] * chances).ravel(), skull)
    weights = np.tile(model.weights / CHANCES, CHANCES)
    expected = _after_looks(mean_risk(arrays, model.effects)[0], skull)
    measured = [name for name in sign_priors().names if getattr(skull.signs, name) is not None]
    reasons = (_reason(model, skull.signs, arrays.means[0], name) for name in measured)
    return YellowingRisk(
        probability=min(float(expected @ model.weights), 1.0),  # weights sum to 1 up to rounding
        intervals=_intervals(risks, weights),
        reasons=tuple(sorted(reasons, key=lambda one: -abs(np.log(one.odds_factor)))),
        unmeasured=tuple(name for name in sign_priors().names if name not in measured),
    )


def _after_looks(risk: FloatArray, skull: FinishedSkull) -> FloatArray:
    """Return the risk of yellowing yet, by Bayes' rule, for a skull seen white so far."""
    outcome = outcome_of(skull.looks) or Outcome()
    if outcome.yellow_by_days is not None:
        return np.ones_like(risk)
    shown = follow_up_rule().shown_by(outcome.white_until_days)
    left: FloatArray = risk * (1 - shown) / (1 - risk * shown)
    return left


def _intervals(risks: FloatArray, weights: FloatArray) -> tuple[RiskInterval, ...]:
    order = np.argsort(risks)
    ends = [((1 - one) / 2, (1 + one) / 2) for one in INTERVALS]
    places = np.searchsorted(np.cumsum(weights[order]), ends)
    found = risks[order][np.minimum(places, len(order) - 1)].tolist()
    return tuple(
        RiskInterval(probability=one, low=low, high=high)
        for one, (low, high) in zip(INTERVALS, found, strict=True)
    )


def _reason(model: YellowingModel, signs: Signs, means: FloatArray, name: str) -> RiskReason:
    index = sign_priors().names.index(name)
    measured = getattr(signs, name)
    effect = float(model.effects[1 + index] @ model.weights)
    return RiskReason(
        feature=name,
        value=measured.value,
        std=measured.std,
        odds_factor=float(np.exp(effect * means[index])),
    )


def follow_up_values(
    model: YellowingModel, skulls: Sequence[FinishedSkull], days_now: Sequence[float]
) -> tuple[FollowUpValue, ...]:
    """Return what a follow-up photo of each skull would teach, most informative first.

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
