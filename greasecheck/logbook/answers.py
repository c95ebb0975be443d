"""Keeps answers about running soaks; nothing but time is lost without them."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.logbook.store.times import from_text, now, to_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from datetime import datetime

    from greasecheck.logbook.store.book import Logbook

ALL_TUBS = -1  # counts changes that every answer rests on
# An answer takes seconds; the claim of a process that was killed holds the others up for so long.
CLAIM_LASTS = timedelta(minutes=5)
LATER = """SELECT 1 FROM readings WHERE tub = ?1 AND taken_at > ?2
    UNION SELECT 1 FROM baths WHERE tub = ?1 AND filled_at > ?2
    UNION SELECT 1 FROM temperatures WHERE tub = ?1 AND at > ?2
    UNION SELECT 1 FROM top_ups WHERE tub = ?1 AND at > ?2
    UNION SELECT 1 FROM skull_events WHERE tub = ?1 AND happened_at > ?2"""


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
    """

    tub: int
    key: str
    made_at: datetime
    good_until: datetime
    brief: str


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


def keep_answer(book: Logbook, answer: KeptAnswer, whole: bytes | None) -> None:
    """Keep an answer in place of the tub's last one; a logbook that is read-only keeps none.

    One that leaves out entries of a later time is not kept, as its key would not tell.
    """
    at = to_text(answer.made_at)
    if book.rows(LATER, (answer.tub, at)):
        return
    row = (answer.tub, answer.key, at, to_text(answer.good_until), answer.brief, whole)
    with suppress(LogbookError), book.transaction() as connection:
        connection.execute("INSERT OR REPLACE INTO kept_answers VALUES (?, ?, ?, ?, ?, ?)", row)


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
