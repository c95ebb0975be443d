"""How two recipes compare: codes with values; `greasecheck.words.recipes` has the words."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from greasecheck.model import Recipe

FEWEST_TUBS = 2  # of each recipe, to rank two of them
MOST_MORE_TUBS = 60  # beyond it the number still needed is not stated


class RecipeVerdict(StrEnum):
    """What the tubs show of two recipes."""

    FASTER = "faster"
    SLOWER = "slower"
    ALIKE = "alike"
    OPEN = "open"
    NOT_RANKED = "not ranked"


class Hindrance(StrEnum):
    """Why two recipes cannot be ranked."""

    FEW_TUBS = "few_tubs"
    SPECIES_APART = "species_apart"  # they never soaked the same known species


class RecipeNoteCode(StrEnum):
    """What to know before believing the ratios; what goes with each stands beside it."""

    NO_RATES = "no_rates"
    ONE_RECIPE = "one_recipe"  # name: the recipe
    NO_TEMPERATURE = "no_temperature"  # names: the soaks without one, which count for less
    WARMTH_APART = "warmth_apart"


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipeNote:
    """A note on a comparison, with the names that its code states."""

    code: RecipeNoteCode
    names: tuple[str, ...] = ()


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
        What they show of `recipe`.
    hindrance : Hindrance or None
        Why the two cannot be ranked; None when they can.
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
        0 when it is settled, None when more than `MOST_MORE_TUBS` would be needed.
    """

    recipe: Recipe
    baseline: Recipe
    tubs: int
    baseline_tubs: int
    verdict: RecipeVerdict
    hindrance: Hindrance | None
    ratio: float | None
    intervals: tuple[RatioInterval, ...]
    probability_faster: float | None
    plain_ratio: float | None
    more_tubs_each: int | None

    @property
    def eight_in_ten(self) -> RatioInterval:
        """Return the 80 % interval, the one that people are shown; only of ranked recipes."""
        return next(part for part in self.intervals if part.probability == 0.8)
