"""The proof of a degreased skull: a warm bath left alone gains no more than is left to give."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.fit.dates import clear_gain_row, skull_rows, volume_share
from greasecheck.predict.fit.likelihood import expected_of
from greasecheck.predict.fit.noise import covariance_of
from greasecheck.predict.fit.tub_fit import thinned_draws
from greasecheck.predict.model.projection import value_of

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.model import FloatArray
    from greasecheck.predict.fit.tub_fit import TubFit
    from greasecheck.predict.records import ClearRule

DRAWS = 200  # their median is off by 3.5 in 100 of them (binomial), of half as many by 5
LEAST_LEFT_SHARE = 1e-6  # keeps a ratio finite, far below any rule: twice as much changes nothing
WARM_AGAIN = timedelta(days=1)  # of water seen warm, until a photo shows whether it is quiet
# No source. From this part of the rule's span on a bath may prove a skull, where it does so by two
# standard errors (1 in 40 of those just degreased, by chance); at the end the estimate decides.
LEAST_SPAN, EARLY_ERRORS = 0.5, 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """What a warm bath that was left alone says.

    Attributes
    ----------
    span : float
        How long it was left, as a share of what the rule says, 1 at most.
    gain_share : float
        Its gain over that of a bath in which all is just degreased, or which runs clear.
    std : float
        Standard error of `gain_share`.
    """

    span: float
    gain_share: float
    std: float

    @property
    def holds(self) -> bool:
        """Return whether it shows that no more is left than in a just degreased skull."""
        errors = EARLY_ERRORS if self.span < 1 else 0.0
        return self.gain_share + errors * self.std < 1

    @property
    def is_refuted(self) -> bool:
        """Return whether it was left to its end and shows that more is left."""
        return self.span >= 1 and not self.holds


def proofs_of(fit: TubFit, warm: tuple[datetime, ...], rule: ClearRule) -> list[Proof | None]:
    """Return what each bath of a tub proves, in their order; None of one that can prove nothing.

    Parameters
    ----------
    fit : TubFit
        The tub.
    warm : tuple of datetime.datetime
        When somebody found the water warm: it must have been in the second half of a bath.
    rule : ClearRule
        How long a proof lasts, and what counts as clear and as degreased.
    """
    baths = range(int(fit.timeline.calendar.changed.sum()))
    return [_proof(fit, bath, rule) if _is_left(fit, bath, warm, rule) else None for bath in baths]


def _is_left(fit: TubFit, bath: int, warm: tuple[datetime, ...], rule: ClearRule) -> bool:
    """Return whether a bath was read after long enough, and was warm in its second half."""
    moments, calendar = fit.timeline.observations.moments, fit.timeline.calendar
    ages = moments.bath_age_days[moments.bath == bath]
    if not ages.size or ages.max() < LEAST_SPAN * rule.soak_days:
        return False
    filled = calendar.at(float(calendar.event_days[calendar.changed][bath]))
    half = filled + timedelta(days=min(float(ages.max()), rule.soak_days) / 2)
    last = calendar.at(float(moments.days[moments.bath == bath].max()))
    return any(half <= at <= last + WARM_AGAIN for at in warm)


def _proof(fit: TubFit, bath: int, rule: ClearRule) -> Proof:
    """Return what a bath says by all of its readings.

    The best linear unbiased estimate (Aitken 1936, Proc. R. Soc. Edinb. 55, 42; from memory) of
    its gain, by the covariance that the tub was fitted with: its own soap and pace, and scatter.
    """
    seen = fit.timeline.observations
    rows = seen.moments.bath == bath
    ages = seen.moments.bath_age_days[rows]
    span = min(float(ages.max()) / rule.soak_days, 1.0)
    if seen.above[rows & (seen.moments.bath_age_days >= LEAST_SPAN * rule.soak_days)].any():
        return Proof(span=span, gain_share=np.inf, std=0.0)
    expected = expected_of(fit.timeline, fit.fits[0].peak.draws)
    gained = seen.haze_per_m[rows] - expected.fresh[rows]
    most = _most_gains(fit, ages, rule)
    weights = np.linalg.solve(covariance_of(seen, expected, fit.whitening.noise, rows), most)
    precision = weights @ most
    return Proof(
        span=span,
        gain_share=float(weights @ gained / precision),
        std=float(precision**-0.5),
    )


def _most_gains(fit: TubFit, ages_days: FloatArray, rule: ClearRule) -> FloatArray:
    """Return what a bath may gain by some ages: as of a just degreased skull, or running clear."""
    clear = rule.gain_per_m / volume_share(fit) * np.minimum(ages_days / rule.soak_days, 1.0)
    most: FloatArray = np.maximum(_gains_of_degreased(fit, ages_days, rule), clear)
    return most


def _gains_of_degreased(fit: TubFit, ages_days: FloatArray, rule: ClearRule) -> FloatArray:
    """Return what fresh baths left alone gain by some ages when all is just degreased [1/m].

    What they would gain now, by as much as there is grease left.
    """
    per_share = []
    for drawn in thinned_draws(fit, DRAWS):
        course = drawn.course
        weights = course.weights(fit.timeline.now)[0]
        left = np.max([value_of(row, weights) for row in skull_rows(course)], axis=0)
        gains = [
            value_of(clear_gain_row(fit, course, replace(rule, soak_days=float(age))), weights)
            for age in ages_days
        ]
        per_share.append(np.stack(gains) / np.maximum(left, LEAST_LEFT_SHARE))
    each: FloatArray = np.median(np.hstack(per_share), axis=1)
    return rule.grease_left_share * each
