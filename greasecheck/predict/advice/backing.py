"""What backs quiet water: that the tub was warm, the proof, and the species' usual time."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model import Recipe
from greasecheck.predict.advice.proof import WARM_AGAIN, proofs_of
from greasecheck.predict.fit.dates import soaked_days, usual_share
from greasecheck.reference.advice import advice_value

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from greasecheck.predict.fit.tub_fit import TubFit
    from greasecheck.predict.records import ClearRule, TubHistory

# Quiet water multiplies the odds of the species' usual time by no more than 10 to this power, and
# by 10 more where a whole proof holds: the bounds of 'substantial' and of 'very strong' evidence
# (Jeffreys, Theory of Probability, 3rd ed. 1961, app. B; from memory). Each day of a proof counts
# alike: what is hidden may show on any. With a whole one a tenth of the skulls of a species may be
# quiet and full; at 10 in all a fourth fewer days would do.
QUIET_POWER = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Backing:
    """What backs quiet water.

    Attributes
    ----------
    warm : bool
        Whether the tub was seen warm, with a photo of its water after that, or needs no heater;
        never of acetone, in which grease makes no haze.
    was_warm : bool
        Whether it was so at any time since the present water went in.
    proof_span : float
        How long any water was left warm and unchanged that gained no more than clear water may, or
        than a skull gives off that is just degreased: as a share of what the rule says, 0 to 1.
    refuted : bool
        Whether the present water was left so to the end, and gained more.
    pace_broke : bool
        Whether its pace once fell or rose as no leaching does, so that the water convinces nobody
        without the proof.
    usual_share : mapping of str to float
        By each skull's name, the share of skulls of its kind that are done by now, 0 to 1.
    most_sure : mapping of str to float
        By each skull's name, how sure quiet water can make of it at most, 0 to 1.
    soaked_days : mapping of str to float
        By each skull's name, how long it soaked, as if always in a soap bath at 40 degrees C.
    """

    warm: bool
    was_warm: bool
    proof_span: float
    refuted: bool
    pace_broke: bool
    usual_share: Mapping[str, float]
    most_sure: Mapping[str, float]
    soaked_days: Mapping[str, float]

    @property
    def proved(self) -> bool:
        """Return whether a whole proof holds."""
        return self.proof_span >= 1


def backing_of(
    fit: TubFit,
    history: TubHistory,
    rule: ClearRule,
    *,
    checked_at: datetime | None = None,
    pace_broke: bool = False,
) -> Backing:
    """Return what backs quiet water of a tub.

    Parameters
    ----------
    fit : TubFit
        The tub.
    history : TubHistory
        Its log.
    rule : ClearRule
        How long a proof lasts, and what counts as clear.
    checked_at : datetime.datetime, optional
        When somebody last found heater, soap and bone all well.
    pace_broke : bool
        Whether its pace once fell or rose as no leaching does.
    """
    warm = _seen_warm(fit, history, checked_at)
    soaked = soaked_days(fit)
    shows_haze = fit.timeline.usual_condition.recipe is not Recipe.ACETONE
    is_cold = fit.timeline.calendar.steps.cold is not None
    unheated = _filled_c(fit, history) <= advice_value("room_c")
    proofs = proofs_of(fit, warm, rule) if shows_haze else []
    span = max((proof.span for proof in proofs if proof and proof.holds), default=0.0)
    newest = proofs[-1] if proofs else None
    shares = {
        skull.name: usual_share(fit, n, soaked[n], rule) for n, skull in enumerate(fit.skulls)
    }
    trusted = shows_haze and not is_cold
    return Backing(
        warm=trusted and (unheated or _seen_after(fit, warm, fit.now, rule)),
        was_warm=trusted and (unheated or _seen_after(fit, warm, filled_at(fit), rule)),
        proof_span=span,
        refuted=newest is not None and newest.is_refuted,
        pace_broke=pace_broke,
        usual_share=shares,
        most_sure={name: _most_sure(share, span) for name, share in shares.items()},
        soaked_days={skull.name: soaked[n] for n, skull in enumerate(fit.skulls)},
    )


def _most_sure(usual_share: float, proved_span: float) -> float:
    """Return how sure quiet water can make, where so many skulls are usually done by now.

    Parameters
    ----------
    usual_share : float
        Of the skulls of its kind, 0 to 1.
    proved_span : float
        Of the longest proof that holds, 0 without one, 1 for a whole one.

    Examples
    --------
    >>> [round(_most_sure(share, 0.0), 2) for share in (0.25, 0.5, 0.75)]
    [0.51, 0.76, 0.9]
    >>> [round(_most_sure(0.5, span), 2) for span in (0.5, 1.0)]
    [0.91, 0.97]
    >>> [round(_most_sure(0.25, span), 2) for span in (0.5, 1.0)]
    [0.77, 0.91]
    """
    odds = usual_share / max(1 - usual_share, 1e-9) * 10 ** (QUIET_POWER + proved_span)
    return odds / (1 + odds)


def _seen_warm(
    fit: TubFit, history: TubHistory, checked_at: datetime | None
) -> tuple[datetime, ...]:
    """Return when somebody found the water warm: by a thermometer, or all well.

    What is entered with a water change is what went in; the water may have cooled since.
    """
    least_c = _filled_c(fit, history) - advice_value("stall_small_drop_c")
    felt = [one.at for one in history.temperatures if one.temperature_c > least_c]
    return tuple(at for at in (*felt, *((checked_at,) if checked_at else ())) if at <= fit.now)


def _filled_c(fit: TubFit, history: TubHistory) -> float:
    """Return how warm baths usually go in [degrees C]; the usual where none was entered."""
    filled = [
        change.temperature_c
        for change in history.changes
        if change.temperature_c is not None and change.at <= fit.now
    ]
    return float(np.median(filled)) if filled else fit.timeline.usual_condition.temperature_c


def filled_at(fit: TubFit) -> datetime:
    """Return when the present water went in."""
    return fit.timeline.calendar.at(fit.timeline.calendar.last_change_days)


def _seen_after(fit: TubFit, warm: tuple[datetime, ...], then: datetime, rule: ClearRule) -> bool:
    """Return whether the water was seen warm in the time before `then` or later.

    That is, not longer before than a proof lasts, and read at least a day after it was seen.
    """
    calendar, days = fit.timeline.calendar, fit.timeline.observations.moments.days
    if not warm or not len(days):
        return False
    newest = calendar.at(float(days.max()))
    lately = then - timedelta(days=rule.soak_days)
    return any(at >= lately and newest - at >= WARM_AGAIN for at in warm)
