"""The leach rate of each soak, for recipes to be compared by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.errors import ForecastError
from greasecheck.predict.forecasting import fit_tub
from greasecheck.predict.recipes_rate import tub_rate

if TYPE_CHECKING:
    from collections.abc import Iterable

    from greasecheck.garage.past_soaks import PastSoak
    from greasecheck.predict.recipes_records import RateRatio, TubRate


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A soak that could not be compared, and why."""

    name: str
    why: str


def soak_rates(
    soaks: Iterable[PastSoak],
) -> tuple[tuple[TubRate, ...], tuple[LeftOut, ...]]:
    """Return the leach rate of each soak, and the soaks that tell none."""
    rates, left_out = [], []
    for soak in soaks:
        try:
            fit = fit_tub(soak.history, soak.until)
            rates.append(tub_rate(fit, soak.name, temperature_known=soak.temperature_known))
        except ForecastError as error:
            why = error.problem.removeprefix(f"{soak.name}: ")
            left_out.append(LeftOut(name=soak.name, why=why))
    return tuple(rates), tuple(left_out)


def more_words(ratio: RateRatio) -> str:
    """Return how many more tubs would settle two recipes, in words."""
    if ratio.more_tubs_each is None:
        return "no reasonable number of tubs would settle it: the difference is too small"
    return (
        f"{ratio.more_tubs_each} more tubs of each, on the same species, would settle it "
        "in 4 cases of 5"
    )
