"""What goes into a comparison of recipes and what comes out: plain frozen records."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from greasecheck.model import Recipe


class RecipeVerdict(StrEnum):
    """What the tubs say of two recipes."""

    FASTER = "faster"
    SLOWER = "slower"
    ALIKE = "alike"
    OPEN = "open"
    NOT_RANKED = "not ranked"


@dataclass(frozen=True, slots=True, kw_only=True)
class TubRate:
    """How quickly one tub leached, as its readings alone say.

    Attributes
    ----------
    name : str
        Which tub and soak it was.
    log_rate : float
        Natural log of one over the days until clear [1/day], as the tub was run.
    std : float
        Standard error of `log_rate`, above 0.
    recipe : Recipe
        What its baths were made of.
    species : str or None
        Its slowest species; None when unknown.
    temperature_c : float or None
        Bath temperature [degrees C]; None when unknown.
    """

    name: str
    log_rate: float
    std: float
    recipe: Recipe
    species: str | None
    temperature_c: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RatioInterval:
    """A central interval of a ratio of rates."""

    probability: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RateRatio:
    """How much faster one recipe leaches than another, species and temperature being equal.

    Attributes
    ----------
    recipe, baseline : Recipe
        The ratio is that of `recipe` over `baseline`.
    tubs, baseline_tubs : int
        How many tubs of each were compared.
    verdict : RecipeVerdict
        What they say of `recipe`.
    reason : str
        Why, in plain words.
    ratio : float or None
        Median of the ratio; None when the two cannot be ranked, like the three that follow.
    intervals : tuple of RatioInterval
        Central 50 %, 80 % and 95 % intervals.
    probability_faster : float or None
        Probability, 0 to 1, that `recipe` is the faster one.
    plain_ratio : float or None
        Ratio of the geometric means, before adjusting for species and temperature.
    more_tubs_each : int or None
        How many more tubs of each recipe, on the same species, would settle it in 4 cases of 5;
        0 when it is settled, None when no reasonable number would.
    """

    recipe: Recipe
    baseline: Recipe
    tubs: int
    baseline_tubs: int
    verdict: RecipeVerdict
    reason: str
    ratio: float | None
    intervals: tuple[RatioInterval, ...]
    probability_faster: float | None
    plain_ratio: float | None
    more_tubs_each: int | None

    @property
    def eight_in_ten(self) -> RatioInterval:
        """Return the 80 % interval, the one that people are shown; only of ranked recipes."""
        return next(part for part in self.intervals if part.probability == 0.8)


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipeComparison:
    """All recipes in use against each other.

    Attributes
    ----------
    tubs : tuple of TubRate
        The tubs that were compared.
    ratios : tuple of RateRatio
        One for each pair of recipes.
    tub_scatter_log_std : float or None
        Natural-log scatter of tubs alike in all that is known; None without a tub.
    notes : tuple of str
        What to know before believing the ratios.
    """

    tubs: tuple[TubRate, ...]
    ratios: tuple[RateRatio, ...]
    tub_scatter_log_std: float | None
    notes: tuple[str, ...]
