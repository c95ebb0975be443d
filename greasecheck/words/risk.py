"""The risk of yellowing later in words: its signs, how far to trust it, what would teach more."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from greasecheck.model.reasons import SHORTEST_LOG2_SOAK
from greasecheck.words.reasons import left_words
from greasecheck.words.times import counted, day_words

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

MEANINGS = {
    "residual_grease_share": "grease left in the bone",
    "yellowness_at_end": "yellowness of the bone by the last photos of its soak",
    "yellowness_fall_per_week": "fall of its yellowness by the last photos of its soak",
    "yellow_patch_share": "yellow patches by the last photos of its soak",
    "log2_soak_over_usual": "soak against the usual time of its species",
    "resoaked_after_whitening": "resoaked after whitening",
}
NO_MATTER = 0.05  # as a share of the odds
MOST_FACTOR = 20  # no effect is known so well that a larger factor could be stated


def risk_words(feature: str, value: float, odds_factor: float) -> str:
    """Return what a measured sign was, and what it does to the odds.

    Parameters
    ----------
    feature : str
        Name of the sign, as in calibration/yellowing.csv.
    value : float
        What it was, in the unit that the table gives.
    odds_factor : float
        What it multiplies the odds of the usual skull by.

    Examples
    --------
    >>> risk_words("yellow_patch_share", 0.21, 3.04)
    'yellow patches by the last photos of its soak (21%): raises the odds by a factor of 3'
    """
    return f"{MEANINGS[feature]} ({_amount(feature, value)}): {_bearing(odds_factor)}"


def _bearing(factor: float) -> str:
    if abs(math.log(factor)) < NO_MATTER:
        return "hardly matters"
    verb, size = ("raises", factor) if factor > 1 else ("lowers", 1 / factor)
    stated = f"more than {MOST_FACTOR}" if size > MOST_FACTOR else f"{size:.2g}"
    return f"{verb} the odds by a factor of {stated}"


def _amount(feature: str, value: float) -> str:
    """Return a sign's value with its unit."""
    return {
        "residual_grease_share": left_words(value),
        "yellowness_at_end": f"{abs(value):.0f} {'above' if value > 0 else 'below'} clean bone",
        "yellowness_fall_per_week": f"none: it rose by {-value:.1f} a week"
        if round(value, 1) < 0
        else f"{abs(value):.1f} a week",
        "yellow_patch_share": f"{value:.0%}",
        "log2_soak_over_usual": f"{2**value:.2g} times as long"
        + (" or less" if value <= SHORTEST_LOG2_SOAK else ""),
        "resoaked_after_whitening": "yes" if value > 0 else "no",
    }[feature]


def untaught_words(assumed: str) -> str:
    """Return what the risks rest on before the first follow-up."""
    return f"no follow-up yet; assumed: {assumed}"


def trust_words(outcomes: int, yellowed: int, briers: tuple[float, float] | None) -> str:
    """Return how far to trust the risks.

    Parameters
    ----------
    outcomes, yellowed : int
        Skulls with a follow-up, and how many of them yellowed.
    briers : tuple of float or None
        Mean squared errors (Brier, Mon. Weather Rev. 78, 1, 1950) of the model and of one risk for
        all, on skulls left out; None when they are too few.

    Examples
    --------
    >>> trust_words(1, 0, None)
    'learned from the follow-up of 1 skull, of which 0 yellowed: too few to check the risks \
against; mostly common practice'
    """
    seen = (
        f"learned from the follow-up of {counted(outcomes, 'skull')}, of which {yellowed} yellowed"
    )
    if briers is None:
        return f"{seen}: too few to check the risks against; mostly common practice"
    model, base_rate = briers
    verdict = "better than" if model < base_rate else "no better than"
    return (
        f"{seen}; on skulls left out it is {verdict} one risk for all"
        f" (Brier {model:.3f} against {base_rate:.3f})"
    )


def photos_words(photos: Sequence[tuple[str, datetime]]) -> list[str]:
    """Return which follow-up photos would teach most, by skull and first day; a line each."""
    lines = [f"  {skull}: from {day_words(day)}" for skull, day in photos]
    return ["follow-up photos that would teach most, the best first:", *lines] if lines else []
