"""What is assumed before tubs compare recipes, from calibration/recipe_priors.csv."""

from __future__ import annotations

from functools import cache

from greasecheck.predict.tables import Spread
from greasecheck.reference.folder import data_folder
from greasecheck.reference.lookup import LookupTable, read_lookup


@cache
def _table() -> LookupTable:
    return read_lookup(data_folder("calibration") / "recipe_priors.csv")


@cache
def _spreads() -> dict[str, Spread]:
    return {
        row["parameter"]: Spread(median=float(row["median"]), log_std=float(row["log_std"]))
        for row in _table().rows
    }


def comparison_prior(parameter: str) -> Spread:
    """Return the prior of a parameter of the comparison.

    Examples
    --------
    >>> comparison_prior("activation_kj_per_mol").median
    45.0
    """
    return _spreads()[parameter]


def comparison_prior_words() -> str:
    """Return the same in plain words."""
    return _table().header["words"]
