"""How well the risk of yellowing predicts follow-ups that it has not seen."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.yellowing.prior import follow_up_rule, standardise
from greasecheck.predict.yellowing.records import CalibrationPoint, ModelCheck, Outcome
from greasecheck.predict.yellowing.regression import learn_yellowing, mean_risk, outcome_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.model import FloatArray
    from greasecheck.predict.yellowing.records import FinishedSkull

FEWEST_OUTCOMES = 20
FEWEST_OF_A_KIND = 5
FOLDS = 5
SKULLS_PER_BIN = 8
MOST_BINS = 5


def check_yellowing(skulls: Sequence[FinishedSkull]) -> ModelCheck | None:
    """Return how well risks predict outcomes left out of the fit.

    Parameters
    ----------
    skulls : sequence of FinishedSkull
        Whitened skulls; only those seen yellow, or white within the follow-up window or later,
        are predicted.

    Returns
    -------
    ModelCheck or None
        None with fewer than `FEWEST_OUTCOMES` outcomes, or `FEWEST_OF_A_KIND` of yellow or white.

    References
    ----------
    G. W. Brier, Mon. Weather Rev. 78, 1 (1950).
    """
    settled = [skull for skull in skulls if _is_settled(outcome_of(skull.looks))]
    yellow = np.array([_outcome(skull).yellow_by_days is not None for skull in settled])
    if len(settled) < FEWEST_OUTCOMES or min(yellow.sum(), (~yellow).sum()) < FEWEST_OF_A_KIND:
        return None
    return _check(yellow, *_predict(settled, yellow))


def _check(yellow: FloatArray, risk: FloatArray, base_rate: FloatArray) -> ModelCheck:
    from sklearn.calibration import calibration_curve  # noqa: PLC0415 - slow, and rarely needed
    from sklearn.metrics import brier_score_loss  # noqa: PLC0415 - the same

    bins = min(len(yellow) // SKULLS_PER_BIN, MOST_BINS)
    observed, predicted = calibration_curve(yellow, risk, n_bins=bins, strategy="quantile")
    return ModelCheck(
        outcomes=len(yellow),
        yellowed=int(yellow.sum()),
        brier=float(brier_score_loss(yellow, risk)),
        brier_base_rate=float(brier_score_loss(yellow, base_rate)),
        curve=tuple(
            CalibrationPoint(predicted=float(p), observed=float(o))
            for p, o in zip(predicted, observed, strict=True)
        ),
    )


def _is_settled(outcome: Outcome | None) -> bool:
    if outcome is None:
        return False
    seen_white = outcome.white_until_days >= follow_up_rule().first_day
    return outcome.yellow_by_days is not None or seen_white


def _outcome(skull: FinishedSkull) -> Outcome:
    return outcome_of(skull.looks) or Outcome()


def _predict(skulls: Sequence[FinishedSkull], yellow: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return each skull's risk of being yellow when last looked at, and the share so far."""
    from sklearn.model_selection import StratifiedKFold  # noqa: PLC0415 - slow, and rarely needed

    risk, base_rate = np.empty(len(skulls)), np.empty(len(skulls))
    folds = StratifiedKFold(FOLDS, shuffle=True, random_state=0)
    for train, test in folds.split(yellow[:, None], yellow):
        risk[test] = _risks([skulls[index] for index in train], [skulls[index] for index in test])
        base_rate[test] = yellow[train].mean()
    return risk, base_rate


def _risks(train: Sequence[FinishedSkull], test: Sequence[FinishedSkull]) -> FloatArray:
    model = learn_yellowing(train)
    outcomes = [_outcome(skull) for skull in test]
    days = np.array([outcome.yellow_by_days or outcome.white_until_days for outcome in outcomes])
    ever = mean_risk(standardise(tuple(skull.signs for skull in test)), model.effects)
    risk: FloatArray = ever @ model.weights * follow_up_rule().shown_by(days)
    return risk
