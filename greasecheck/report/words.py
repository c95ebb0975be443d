"""Days, tubs and hazes in the words of the pages."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.model import Absent, Bound, LeftOutReason, Verdict

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.logbook.records import LoggedReading
    from greasecheck.model import LeftOut, Reading

NEVER = "not within ten years"
ABSENT = {
    Absent.JAR: "no jar stands before the sight: no water was measured",
    Absent.BONE: "the rest is empty: no bone was measured",
    Absent.REST: "the rest is not in the picture: no bone was measured",
    Absent.DARK_REST: "no dark rest is seen, or a bone hides all of it: no bone was measured",
    Absent.BONE_BESIDE: "no bone was found beside the chart",
    Absent.BONE_COLOUR: "what lies on the rest has no bone's colour: no bone was measured",
}
LEFT_OUT = {
    LeftOutReason.CRUMB: "too small to be bone",
    LeftOutReason.AT_EDGE: "across the edge of the rest, of no bone's colour",
    LeftOutReason.BACKGROUND: "reaching in from the picture's edge",
    LeftOutReason.COLOUR: "of no bone's colour",
    LeftOutReason.PAPER: "the card's own paper",
    LeftOutReason.REDDISH: "as red as blood or skin",
    LeftOutReason.BROWN: "as dark and brown as antler or horn",
    LeftOutReason.DRAWN: "left out by hand",
}


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


def remarks(reading: Reading) -> tuple[str, ...]:
    """Say what a reading does not hold, a line each; nothing of a refused one, which says why."""
    if reading.verdict is Verdict.REFUSED:
        return ()
    left_out = reading.bone.left_out if reading.bone else ()
    return (
        *(ABSENT[what] for what in reading.absent),
        *(f"left out beside the bone: {_left_out_words(one)}" for one in left_out),
    )


def _left_out_words(one: LeftOut) -> str:
    pieces = "1 piece" if one.count == 1 else f"{one.count} pieces"
    return f"{pieces} {LEFT_OUT[one.reason]}, {one.area_mm2:.0f} mm2"
