"""What a sign does to the risk of yellowing later, in words."""

from __future__ import annotations

import math

from greasecheck.model.reasons import SHORTEST_LOG2_SOAK

MEANINGS = {
    "residual_grease_share": "grease left in the bone at the end of its soak",
    "yellowness_at_end": "bone yellowness at the end",
    "yellowness_fall_per_week": "yellowness was still falling at the end",
    "yellow_patch_share": "yellow patches at the end",
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
    'yellow patches at the end (21%): raises the odds by a factor of 3'
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
        "residual_grease_share": f"{value:.0%}",
        "yellowness_at_end": f"{abs(value):.0f} {'above' if value > 0 else 'below'} clean bone",
        "yellowness_fall_per_week": f"{value:.1f} a week",
        "yellow_patch_share": f"{value:.0%}",
        "log2_soak_over_usual": f"{2**value:.2g} times as long"
        + (" or less" if value <= SHORTEST_LOG2_SOAK else ""),
        "resoaked_after_whitening": "yes" if value > 0 else "no",
    }[feature]
