"""The leach rate of each soak, for recipes to be compared by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.predict.recipes.more_tubs import MOST_MORE_TUBS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.garage.soaks.fits import SoakFit
    from greasecheck.predict.recipes.records import RateRatio, TubRate


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A soak that could not be compared, and why."""

    name: str
    why: str


def soak_rates(fits: Sequence[SoakFit]) -> tuple[tuple[TubRate, ...], tuple[LeftOut, ...]]:
    """Return the leach rates of fitted soaks, and the soaks that tell none."""
    rates = tuple(fit.rate for fit in fits if fit.rate is not None)
    left_out = tuple(
        LeftOut(name=fit.soak.name, why=fit.why_no_rate) for fit in fits if fit.rate is None
    )
    return rates, left_out


def more_words(ratio: RateRatio) -> str:
    """Return how many more tubs would settle two recipes, in words."""
    if ratio.more_tubs_each is None:
        return f"they may well be equal: {MOST_MORE_TUBS} more tubs of each might not settle it"
    return (
        f"{ratio.more_tubs_each} more tubs of each, on the same species, would settle it "
        "in 4 cases of 5"
    )
