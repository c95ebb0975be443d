"""Turns the ladders of a photo into readings, each named by its tub."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from greasecheck.measure.checks import verdict as quality
from greasecheck.measure.checks.judged import judged_reading
from greasecheck.model import Reading, ReadingKind

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.measure.ladder.look import LadderView
    from greasecheck.model import Photo


def ladder_readings(
    photo: Photo, ladders: Sequence[LadderView], named_tub: int | None
) -> tuple[Reading, ...]:
    """Return a reading for each ladder.

    Parameters
    ----------
    photo : Photo
        The photo.
    ladders : sequence of LadderView
        Its ladders.
    named_tub : int or None
        The tub that a person named; it is that of a single ladder, whatever its tag.
    """
    alone = named_tub if len(ladders) == 1 else None
    tubs = [view.tub if alone is None else alone for view in ladders]
    return tuple(
        _reading(photo, view, tub, _part(tub, tubs[:place]), twice=tubs.count(tub) > 1)
        for place, (view, tub) in enumerate(zip(ladders, tubs, strict=True))
    )


def _part(tub: int | None, before: Sequence[int | None]) -> str:
    """Name a ladder within its photo by its tub, or by a number where that is not enough."""
    name = "ladder" if tub is None else f"ladder-{tub}"
    return f"{name}-{before.count(tub) + 1}" if tub is None or tub in before else name


def _reading(photo: Photo, view: LadderView, tub: int | None, part: str, *, twice: bool) -> Reading:
    checks = (
        *quality.photo_checks(photo, tub),
        *view.checks,
        quality.requirement("ladder_tag_once", not twice or tub is None, hard=True),
    )
    return replace(
        judged_reading(photo, tub, checks),
        water=view.water,
        kind=ReadingKind.LADDER,
        part=part,
        ladder=view.ladder,
    )
