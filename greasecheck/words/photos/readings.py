"""What a photo's reading lacks, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.model import Absent, Bound, LeftOutReason, Verdict
from greasecheck.words.figures import murk_words, share_words
from greasecheck.words.photos.checks import check_words, failed_checks

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

# Shares of a bone in yellow patches; common practice, no source.
NO_PATCHES, FEW_PATCHES = 0.02, 0.08


def causes(reading: Reading) -> tuple[str, ...]:
    """Return what is wrong with a photo and what to do, the most telling first."""
    return tuple(dict.fromkeys(check_words(check) for check in failed_checks(reading.checks)))


def first_cause(reading: Reading) -> Check | None:
    """Return the check that the first of the causes is about; None of a good photo."""
    return next(iter(failed_checks(reading.checks)), None)


def too_murky(reading: Reading) -> bool:
    """Return whether its water is only too murky for the jar; of a refused photo nothing is so."""
    lost = reading.water is not None and reading.water.bound is Bound.ABOVE
    return lost and reading.verdict is not Verdict.REFUSED


def remarks(reading: Reading) -> tuple[str, ...]:
    """Say what a reading does not hold, a line each; nothing of a refused one, which says why."""
    return (*absent_words(reading), *left_out_words(reading))


def absent_words(reading: Reading) -> tuple[str, ...]:
    """Say what is not in the picture of a reading that is not refused."""
    refused = reading.verdict is Verdict.REFUSED
    return () if refused else tuple(ABSENT[what] for what in reading.absent)


def left_out_words(reading: Reading) -> tuple[str, ...]:
    """Say what beside the bone of a reading was left out, unless it is refused."""
    if reading.verdict is Verdict.REFUSED or reading.bone is None:
        return ()
    left_out = reading.bone.left_out
    return tuple(f"left out beside the bone: {_left_out_words(one)}" for one in left_out)


def seen_words(reading: Reading) -> str:
    """Say in a few words without figures what a reading saw; nothing of a refused one."""
    if reading.verdict is Verdict.REFUSED:
        return ""
    parts = []
    if reading.water is not None:
        parts.append(f"water {murk_words(reading.water.main_per_m)}")
    if reading.bone is not None:
        parts.append(f"bone {patch_words(reading.bone.yellow_patch_share)}")
    return ", ".join(parts)


def patch_words(share: float) -> str:
    """Return how much of a bone is yellow.

    Examples
    --------
    >>> patch_words(0.004), patch_words(0.05), patch_words(0.36)
    ('without yellow patches', 'with a few yellow patches', 'yellow over a third of it')
    """
    if share < FEW_PATCHES:
        return "without yellow patches" if share < NO_PATCHES else "with a few yellow patches"
    return f"yellow over {share_words(share)} of it"


def _left_out_words(one: LeftOut) -> str:
    pieces = "1 piece" if one.count == 1 else f"{one.count} pieces"
    return f"{pieces} {LEFT_OUT[one.reason]}, {one.area_mm2:.0f} mm²"
