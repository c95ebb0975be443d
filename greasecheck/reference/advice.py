"""What advice rests on, read from calibration/advice.csv."""

from __future__ import annotations

from functools import cache

from greasecheck.reference.folder import data_folder
from greasecheck.reference.lookup import read_lookup


@cache
def _values() -> dict[str, float]:
    return read_lookup(data_folder("calibration") / "advice.csv").values()


def advice_value(name: str) -> float:
    """Return a value of calibration/advice.csv, in the unit that the table gives.

    Examples
    --------
    >>> advice_value("resoak_days")
    14.0
    """
    return _values()[name]
