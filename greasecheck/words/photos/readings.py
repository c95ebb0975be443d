"""What a photo's reading lacks, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.model import Absent, LeftOutReason, Verdict
from greasecheck.words.photos.checks import check_words

if TYPE_CHECKING:
    from greasecheck.model import Check, LeftOut, Reading

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


def causes(reading: Reading) -> tuple[str, ...]:
    """Return what is wrong with a photo and what to do, the most telling first.

    What refuses it goes before what makes it doubtful; within each, causes stand before what
    follows from them.
    """
    failed = sorted((check for check in reading.checks if not check.passed), key=_soft_last)
    return tuple(dict.fromkeys(check_words(check) for check in failed))


def _soft_last(check: Check) -> bool:
    return not check.hard


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
