"""What a failed check of a photo means and what to do, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.words.photos.check_texts import CHECK_TEXTS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from greasecheck.model import Check

UNKNOWN = "something about the photo is not as it should be: take it again"


def failed_checks(checks: Iterable[Check]) -> list[Check]:
    """Return the checks that failed, the most telling first.

    What refuses a photo goes before what makes it doubtful; within each, causes stand before what
    follows from them.
    """
    return sorted((check for check in checks if not check.passed), key=lambda check: not check.hard)


def check_words(check: Check) -> str:
    """Return what is wrong and what to do about it, parted by a colon; nothing for a passed check.

    A note that is a sentence of two such parts stands for itself: the words of the error that ended
    a step, or what an earlier version kept.

    Examples
    --------
    >>> from greasecheck.model import Check
    >>> check_words(Check(name="tilt_deg", value=31.0, limit=25.0, passed=False, hard=False))
    'the camera looks at the sheet from the side: face it squarely'
    """
    if check.passed:
        return ""
    known = CHECK_TEXTS.get(check.name, "")
    if ": " in check.note and "{note}" not in known:
        return check.note
    words = CHECK_TEXTS.get(f"{check.name}/{check.note}") or CHECK_TEXTS.get(check.name, UNKNOWN)
    return words.format(note=check.note, value=check.value or 0.0)
