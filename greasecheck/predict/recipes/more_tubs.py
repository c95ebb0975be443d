"""When two recipes are settled, and how many more tubs that takes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from greasecheck.model.recipe_ratios import MOST_MORE_TUBS, RecipeVerdict
from greasecheck.predict.recipes.regression import NormalMixture

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

SURE = 0.95
ALIKE_LOG_RATIO = float(np.log(1.15))  # common practice, no source: less is no reason to switch
SURE_ALIKE = 0.9
ASSURANCE = 0.8
NODES = 201


def verdict_of(log_ratio: NormalMixture) -> RecipeVerdict:
    """Return what is settled about a log ratio of rates.

    Examples
    --------
    >>> one = np.ones(1)
    >>> [
    ...     str(verdict_of(NormalMixture(weights=one, means=mean * one, stds=std * one)))
    ...     for mean, std in ((0.4, 0.1), (0.1, 0.3), (0.0, 0.05))
    ... ]
    ['faster', 'open', 'alike']
    """
    slower = log_ratio.below(0.0)
    if log_ratio.below(ALIKE_LOG_RATIO) - log_ratio.below(-ALIKE_LOG_RATIO) >= SURE_ALIKE:
        return RecipeVerdict.ALIKE
    if SURE > slower > 1 - SURE:
        return RecipeVerdict.OPEN
    return RecipeVerdict.SLOWER if slower >= SURE else RecipeVerdict.FASTER


def more_tubs_each(log_ratio: NormalMixture, scatter: float, read_std: float) -> int | None:
    """Return how many more tubs of each of two recipes would settle them in 4 cases of 5.

    Parameters
    ----------
    log_ratio : NormalMixture
        What is known of the log ratio of their rates now.
    scatter : float
        Natural-log scatter of tubs alike in all that is known.
    read_std : float
        Standard error of a finished tub's log rate.

    Returns
    -------
    int or None
        0 when it is settled; None when more than `MOST_MORE_TUBS` of each would be needed.

    Notes
    -----
    The chance that a study to come will settle the question, averaged over what is believed now,
    is its assurance (O'Hagan, Stevens & Campbell, Pharm. Stat. 4, 187, 2005; from memory). Tubs
    come in pairs of the same species, so that the species cancels.
    """
    if verdict_of(log_ratio) is not RecipeVerdict.OPEN:
        return 0
    mean, std = log_ratio.mean, log_ratio.std
    counts = range(1, MOST_MORE_TUBS + 1)
    pair_variance = 2 * (scatter**2 + read_std**2)
    return next(
        (n for n in counts if _assurance(mean, std, pair_variance / n) >= ASSURANCE),
        None,
    )


def _assurance(mean: float, std: float, variance: float) -> float:
    """Return the chance that a further estimate of the given variance settles the log ratio."""
    later_std = float(np.sqrt(1 / (1 / std**2 + 1 / variance)))
    chances = (np.arange(NODES) + 0.5) / NODES
    later_mean: FloatArray = mean + np.sqrt(std**2 - later_std**2) * special.ndtri(chances)
    faster = special.ndtr(later_mean / later_std)
    upper = special.ndtr((ALIKE_LOG_RATIO - later_mean) / later_std)
    lower = special.ndtr((-ALIKE_LOG_RATIO - later_mean) / later_std)
    settled = (np.maximum(faster, 1 - faster) >= SURE) | (upper - lower >= SURE_ALIKE)
    return float(settled.mean())
