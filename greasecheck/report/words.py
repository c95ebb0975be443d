"""Days, tubs and hazes in the words of the pages."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.model import Bound

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.logbook.records import LoggedReading

NEVER = "not within ten years"


def day_words(when: datetime | None) -> str:
    """Return a day as people read it, in this computer's zone.

    Examples
    --------
    >>> from datetime import datetime
    >>> day_words(datetime(2026, 3, 4, 12).astimezone())
    '4 Mar 2026'
    """
    if when is None:
        return NEVER
    local = when.astimezone()
    return f"{local.day} {local:%b %Y}"


def tub_words(number: int, name: str | None) -> str:
    """Return what a tub is called: its number, and its name when it has one."""
    return f"tub {number} ({name})" if name else f"tub {number}"


def tub_title(number: int, name: str | None) -> str:
    """Return the same with a capital."""
    return f"T{tub_words(number, name)[1:]}"


def haze_words(reading: LoggedReading) -> str:
    """Return the haze of a reading with unit and uncertainty; only for one that has a haze."""
    assert reading.attenuation_per_m is not None
    std = reading.attenuation_std_per_m or 0.0
    return attenuation_words(reading.attenuation_per_m, std, reading.bound)


def attenuation_words(value_per_m: float, std_per_m: float, bound: Bound | None) -> str:
    """Return an attenuation with unit and standard error, or as a bound.

    Examples
    --------
    >>> attenuation_words(12.34, 0.41, None), attenuation_words(65.0, 0.0, Bound.ABOVE)
    ('12.3 ± 0.4 per metre', 'above 65.0 per metre')
    """
    if bound is not None:
        return f"{'above' if bound is Bound.ABOVE else 'below'} {value_per_m:.1f} per metre"
    return f"{value_per_m:.1f} ± {std_per_m:.1f} per metre"
