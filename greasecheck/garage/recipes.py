"""The leach rate of each soak, for recipes to be compared by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.garage.soaks.fits import SoakFit
    from greasecheck.predict.recipes.records import TubRate


@dataclass(frozen=True, slots=True, kw_only=True)
class UncomparedSoak:
    """A soak that could not be compared, and why."""

    name: str
    why: str


def soak_rates(fits: Sequence[SoakFit]) -> tuple[tuple[TubRate, ...], tuple[UncomparedSoak, ...]]:
    """Return the leach rates of fitted soaks, and the soaks that give none."""
    rates = tuple(fit.rate for fit in fits if fit.rate is not None)
    left_out = tuple(
        UncomparedSoak(name=fit.soak.name, why=fit.why_no_rate) for fit in fits if fit.rate is None
    )
    return rates, left_out
