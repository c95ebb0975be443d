"""Keeps answers about running soaks; nothing but time is lost without them."""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.logbook.records import ProbableChange
from greasecheck.logbook.store.times import from_text, now, to_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from datetime import datetime

    from greasecheck.logbook.store.book import Logbook

ALL_TUBS = -1  # counts changes that every answer rests on
# An answer takes seconds; the claim of a process that was killed holds the others up for so long.
CLAIM_LASTS = timedelta(minutes=5)
# What came later, whether or not the logbook is looked at as of then: of a tub, and skulls of any
# that were done, which advice learns from.
LATER = """SELECT 1 FROM main.readings WHERE tub = ? AND taken_at > ?
    UNION SELECT 1 FROM main.baths WHERE tub = ? AND filled_at > ?
    UNION SELECT 1 FROM main.baths WHERE tub = ? AND dumped_at > ?
    UNION SELECT 1 FROM main.temperatures WHERE tub = ? AND at > ?
    UNION SELECT 1 FROM main.top_ups WHERE tub = ? AND at > ?
    UNION SELECT 1 FROM main.tubs WHERE number = ? AND checked_at > ?
    UNION SELECT 1 FROM main.skull_events WHERE (kind = 'degreased'
    OR skull IN (SELECT skull FROM main.skull_events WHERE tub = ?)) AND happened_at > ?"""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptAnswer:
    """An answer as it is kept.

    Attributes
    ----------
    tub : int
        Whose.
    key : str
        Of the rows and the model that it rests on.
    made_at, good_until : datetime.datetime
        The moment it is true of, and until when it serves if nothing is entered.
    brief : str
        What the lists show of it, as JSON.
    unlogged : tuple of ProbableChange or None
        Changes that the fit found and nobody entered; None where nothing was fitted.
    """

    tub: int
    key: str
    made_at: datetime
    good_until: datetime
    brief: str
    unlogged: tuple[ProbableChange, ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Unlogged:
    """The changes that a tub's newest fit found and nobody entered, oldest first."""

    made_at: datetime
    found: tuple[ProbableChange, ...]


def answer_keys(book: Logbook, tubs: Iterable[int], model: str) -> Mapping[int, str]:
    """Return for each tub the key of all that an answer about it rests on.

    Parameters
    ----------
    book : Logbook
        Where the rows are.
    tubs : iterable of int
        Their numbers.
    model : str
        Version of the model.
    """
    counts = dict(book.rows("SELECT tub, changes FROM tub_changes"))
    shared = counts.get(ALL_TUBS, 0)
    return {tub: f"{model}-{shared}-{counts.get(tub, 0)}" for tub in tubs}


def read_answers(book: Logbook, tub: int | None = None) -> Mapping[int, KeptAnswer]:
    """Return what is kept, of all tubs or of one, by tub."""
    one, which = ("", ()) if tub is None else (" WHERE tub = ?", (tub,))
    rows = book.rows(f"SELECT tub, key, made_at, good_until, brief FROM kept_answers{one}", which)
    return {
        tub: KeptAnswer(
            tub=tub,
            key=key,
            made_at=from_text(made_at),
            good_until=from_text(good_until),
            brief=brief,
        )
        for tub, key, made_at, good_until, brief in rows
    }


def read_whole(book: Logbook, tub: int) -> bytes | None:
    """Return the whole of a tub's answer; None when there is none."""
    found = book.rows("SELECT whole FROM kept_answers WHERE tub = ?", (tub,))
    return found[0][0] if found else None


def read_unlogged(book: Logbook, tub: int) -> Unlogged | None:
    """Return the changes that a tub's fit found; None where none is kept."""
    fitted = "WHERE tub = ? AND unlogged IS NOT NULL"
    rows = book.rows(f"SELECT made_at, unlogged FROM kept_answers {fitted}", (tub,))
    if not rows:
        return None
    [(made_at, found)] = rows
    return Unlogged(
        made_at=from_text(made_at),
        found=tuple(
            ProbableChange(
                tub=tub,
                earliest=from_text(earliest),
                latest=from_text(latest),
                before_per_m=before_per_m,
                after_per_m=after_per_m,
            )
            for earliest, latest, before_per_m, after_per_m in json.loads(found)
        ),
    )


def _unlogged_text(found: tuple[ProbableChange, ...] | None) -> str | None:
    if found is None:
        return None
    return json.dumps(
        [
            [to_text(one.earliest), to_text(one.latest), one.before_per_m, one.after_per_m]
            for one in found
        ]
    )


def keep_answer(book: Logbook, answer: KeptAnswer, whole: bytes | None) -> None:
    """Keep an answer in place of the tub's last one; a logbook that is read-only keeps none.

    One that leaves out entries of a later time is not kept, as its key would not show it.
    """
    at = to_text(answer.made_at)
    if book.rows(LATER, (answer.tub, at) * (LATER.count("?") // 2)):
        return
    unlogged = _unlogged_text(answer.unlogged)
    row = (answer.tub, answer.key, at, to_text(answer.good_until), answer.brief, whole, unlogged)
    with suppress(LogbookError), book.transaction() as connection:
        connection.execute(
            "INSERT OR REPLACE INTO main.kept_answers VALUES (?, ?, ?, ?, ?, ?, ?)", row
        )


def claim(book: Logbook, tub: int) -> bool:
    """Claim the work on a tub's answer; False while another process has it."""
    begun = now()
    with suppress(LogbookError), book.transaction() as connection:
        connection.execute("DELETE FROM answer_claims WHERE until < ?", (to_text(begun),))
        row = (tub, to_text(begun + CLAIM_LASTS))
        added = connection.execute("INSERT OR IGNORE INTO answer_claims VALUES (?, ?)", row)
        return added.rowcount > 0
    return True  # a logbook that is read-only: each process for itself


def release(book: Logbook, tub: int) -> None:
    """Give up a claim."""
    with suppress(LogbookError), book.transaction() as connection:
        connection.execute("DELETE FROM answer_claims WHERE tub = ?", (tub,))
