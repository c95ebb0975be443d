"""Common practice, read from calibration/: species, recipes, priors."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from greasecheck.model import Recipe
from greasecheck.reference.folder import data_folder
from greasecheck.reference.lookup import read_lookup

UNKNOWN_SPECIES = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeciesRange:
    """The usual days until done of a species, the middle half of skulls, and a skull's mass."""

    species: str
    low_days: float
    high_days: float
    mass_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MeltingRange:
    """Between which temperatures a species' fat melts [degrees C]."""

    from_c: float
    to_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipePrior:
    """A recipe's haze when fresh and its leaching rate against soap; medians and log spreads."""

    recipe: Recipe
    fresh_per_m: float
    fresh_log_std: float
    rate_ratio: float
    rate_log_std: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """A median and a natural-log standard deviation (of the odds for a share)."""

    median: float
    log_std: float


@cache
def _species() -> dict[str, SpeciesRange]:
    rows = read_lookup(data_folder("calibration") / "species.csv").rows
    return {
        row["species"]: SpeciesRange(
            species=row["species"],
            low_days=float(row["low_days"]),
            high_days=float(row["high_days"]),
            mass_kg=float(row["mass_kg"]),
        )
        for row in rows
    }


@cache
def _melting() -> dict[str, MeltingRange]:
    rows = read_lookup(data_folder("calibration") / "fat_melting.csv").rows
    return {
        row["species"]: MeltingRange(
            from_c=float(row["melts_from_c"]), to_c=float(row["melts_to_c"])
        )
        for row in rows
    }


@cache
def _recipes() -> dict[Recipe, RecipePrior]:
    rows = read_lookup(data_folder("calibration") / "recipes.csv").rows
    return {
        Recipe(row["recipe"]): RecipePrior(
            recipe=Recipe(row["recipe"]),
            fresh_per_m=float(row["fresh_per_m"]),
            fresh_log_std=float(row["fresh_log_std"]),
            rate_ratio=float(row["rate_ratio"]),
            rate_log_std=float(row["rate_log_std"]),
        )
        for row in rows
    }


@cache
def _spreads() -> dict[str, Spread]:
    rows = read_lookup(data_folder("calibration") / "leaching_priors.csv").rows
    return {
        row["parameter"]: Spread(median=float(row["median"]), log_std=float(row["log_std"]))
        for row in rows
    }


def known_species() -> tuple[str, ...]:
    """Return the names of the species table, in its order."""
    return tuple(_species())


def is_known_species(species: str) -> bool:
    """Return whether the species table has a row of its own for a species."""
    return species.strip().lower() in _species()


def species_range(species: str) -> SpeciesRange:
    """Return the usual range of a species; that of 'unknown' for one not in the table.

    Examples
    --------
    >>> species_range("Deer").low_days, species_range("okapi").species
    (90.0, 'unknown')
    """
    table = _species()
    return table.get(species.strip().lower(), table[UNKNOWN_SPECIES])


def species_mass_kg(species: str) -> float:
    """Return the usual mass of a species' skull with its jaw, dry [kg].

    Examples
    --------
    >>> species_mass_kg("fox") < species_mass_kg("bear")
    True
    """
    return species_range(species).mass_kg


def fat_melting(species: str) -> MeltingRange | None:
    """Return between which temperatures the fat of a species melts; None where it is not known.

    Examples
    --------
    >>> fat_melting("sheep")
    MeltingRange(from_c=44.0, to_c=55.0)
    >>> fat_melting("deer") is None
    True
    """
    return _melting().get(species.strip().lower())


def recipe_prior(recipe: Recipe) -> RecipePrior:
    """Return what is assumed of a recipe.

    Examples
    --------
    >>> recipe_prior(Recipe.SOAP).rate_ratio
    1.0
    """
    return _recipes()[recipe]


def spread(parameter: str) -> Spread:
    """Return the prior spread of a parameter of calibration/leaching_priors.csv."""
    return _spreads()[parameter]
