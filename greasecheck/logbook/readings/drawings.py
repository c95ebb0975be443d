"""Keeps what was drawn to correct what is bone, so that photos read again use it."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.model import Drawn, Stroke

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.logbook.store.book import Logbook


def drawn_text(drawn: Sequence[Drawn]) -> str | None:
    """Return corrections as JSON; None when there are none.

    Examples
    --------
    >>> drawn_text([Drawn(stroke=Stroke.TAP, points=((3.0, 4.0),), in_px=True)])
    '[["tap", 1, [[3.0, 4.0]]]]'
    """
    rows = [[one.stroke, int(one.in_px), one.points] for one in drawn]
    return json.dumps(rows, allow_nan=False) if rows else None


def drawn_of(text: str | None) -> tuple[Drawn, ...]:
    """Return the corrections that `drawn_text` wrote.

    Raises
    ------
    LogbookError
        When they were imported and are none.

    Examples
    --------
    >>> drawn_of('[["tap", 1, [[3.0, 4.0]]]]')[0].points
    ((3.0, 4.0),)
    """
    try:
        return tuple(
            Drawn(
                stroke=Stroke(stroke),
                in_px=bool(in_px),
                points=tuple((float(x), float(y)) for x, y in points),
            )
            for stroke, in_px, points in json.loads(text or "[]")
        )
    except (ValueError, TypeError, RecursionError) as error:
        raise LogbookError(
            f"what was drawn on a photo cannot be read: {error}",
            hint="compare the CSV file from which it was imported",
        ) from error


def drawn_by_photo(book: Logbook) -> dict[str, tuple[Drawn, ...]]:
    """Return the corrections of each photo that has any, by its SHA-256."""
    rows = book.rows("SELECT key, drawn FROM readings WHERE drawn IS NOT NULL")
    return {key.partition(":")[0]: drawn_of(text) for key, text in rows}
