"""What every page may show: words as filters, and the entry that was just made with its undo."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from flask import request
from markupsafe import Markup

from greasecheck.live.entries.entry_views import entry_cautions
from greasecheck.live.fields import whole_in
from greasecheck.logbook.date_slips import doubled_hours, entry_slips
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.undo import find_entry
from greasecheck.words.answers import MARKS, in_ten, sentence, short_answer, short_words, why
from greasecheck.words.figures import haze_words, numbers_words
from greasecheck.words.stages import ready_words, short_step, stage_words, step_words
from greasecheck.words.times import ago, between_words, day_words, short_age

if TYPE_CHECKING:
    from greasecheck.live.parts import Live
    from greasecheck.live.tubs.curves import Curve
    from greasecheck.logbook.undo import PastEntry
    from greasecheck.reference.cautions import Caution

LARGEST = 2**53


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeEntry:
    """The entry that led to this page, with cautions of what is new.

    `slips` are dates that contradict others, `doubled` times that clocks showed twice, in words.
    """

    entry: PastEntry
    cautions: tuple[Caution, ...]
    slips: tuple[str, ...]
    doubled: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PageWords:
    """Filters and functions of the templates."""

    filters: dict[str, Any] = field(default_factory=dict)
    globals: dict[str, Any] = field(default_factory=dict)


def made_entry(live: Live) -> MadeEntry | None:
    """Return the entry that the address of the page names; None without one."""
    number = whole_in(request.args, "entry", "entry", LARGEST)
    if not number:
        return None
    with Logbook(live.settings.logbook) as book:
        entry = find_entry(book, number)
        if entry is None:
            return None
        return MadeEntry(
            entry=entry,
            cautions=entry_cautions(book, number),
            slips=() if entry.undone_at else entry_slips(book, number),
            doubled=() if entry.undone_at else doubled_hours(book, number),
        )


def _svg(curve: Curve) -> Markup:
    return Markup(curve.svg)  # drawn by this package, and escaped there


def _trimmed(value: float) -> str:
    return f"{value:g}"


words_for_pages = PageWords(
    filters={
        "ago": ago,
        "day": day_words,
        "short_age": short_age,
        "svg": _svg,
        "trimmed": _trimmed,
    },
    globals={
        "marks": MARKS,
        "short": short_answer,
        "task_short": short_words,
        "sentence": sentence,
        "why": why,
        "ready_words": ready_words,
        "short_step": short_step,
        "stage_words": stage_words,
        "step": step_words,
        "in_ten": in_ten,
        "between": between_words,
        "haze": haze_words,
        "tub_numbers": numbers_words,
    },
)
