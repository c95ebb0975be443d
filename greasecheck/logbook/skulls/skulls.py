"""Skulls: entering them, what happens to them, and how they looked later."""

from __future__ import annotations

from contextlib import contextmanager
from datetime import timedelta
from difflib import get_close_matches
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.logbook.records import FollowUp, Skull, SkullEvent
from greasecheck.logbook.skulls.stays import EVERY_SKULL, INTO_A_TUB, idle_moves, skull_events
from greasecheck.logbook.skulls.tags import take_tag
from greasecheck.logbook.store.columns import letters_of, tidy_name
from greasecheck.logbook.store.mapping import is_former_name, select, values_of
from greasecheck.logbook.store.tables import FOLLOW_UPS, SKULL_EVENTS, SKULLS
from greasecheck.logbook.store.times import to_text
from greasecheck.logbook.water.baths import require_possible_time, require_tub
from greasecheck.stages import EventKind, Misstep, Stage, first_misstep
from greasecheck.words.times import exact

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import datetime

    from greasecheck.logbook.store.book import Entry, Logbook
    from greasecheck.logbook.store.columns import Value


STANDS = {
    Stage.ENTERED: "has not been put into a tub",
    Stage.SOAKING: "still soaks",
    Stage.DEGREASED: "is done and out of its tub",
    Stage.WHITENED: "is whitened",
    Stage.RINSING: "rinses after whitening",
    Stage.DRIED: "is dried",
    Stage.RETURNED: "has been given back",
}


def enter_skull(book: Logbook, skull: Skull, first: SkullEvent | None = None) -> None:
    """Enter a skull, or change what is known of it, with its first event if given.

    One under a former name of another skull begins without what was known under that name.

    Raises
    ------
    LogbookError
        When the event lies in the future or names an unknown tub.
    """
    with book.entry(f"skull {skull.name}") as entry:
        if skull.tag is not None:
            take_tag(book, entry, skull.tag, skull.name)
        is_former = is_former_name(entry, SKULLS, skull.name)
        entry.put(SKULLS, {**values_of(skull, known_only=not is_former), "merged_into": None})
        if first is not None:
            _insert_event(entry, first)


def enter_event(book: Logbook, event: SkullEvent) -> None:
    """Enter what happened to a skull.

    Raises
    ------
    LogbookError
        When the skull or the tub is unknown, no tub is named for a soak, no strength and time
        for a whitening, the time lies in the future, the same is entered already, or it would be
        moved, then or later, to the tub that it lies in.
    """
    with book.entry(f"skull {event.skull} {event.kind}") as entry:
        require_skull(entry, event.skull)
        with _no_idle_move(book, event):
            _insert_event(entry, event)


@contextmanager
def _no_idle_move(book: Logbook, event: SkullEvent) -> Iterator[None]:
    """Refuse to enter an event by which its skull moves to the tub that it lies in, then or later.

    Moves that were idle before, as an import may bring them, are in nobody's way.
    """
    before = idle_moves(skull_events(book, event.skull))
    yield
    found = idle_moves(skull_events(book, event.skull))
    if len(found) <= len(before):
        return
    move = next(one for one in found if one not in before)
    if move.happened_at == event.happened_at:
        raise LogbookError(
            f"skull {event.skull} lies in tub {move.tub} by then already",
            hint="name the tub that it went to",
        )
    raise LogbookError(
        f"skull {event.skull} is entered as moved to tub {move.tub} only on "
        f"{exact(move.happened_at)}",
        hint="enter the right date in place of that one, or take that entry back first",
    )


def free_second(book: Logbook, name: str, at: datetime) -> datetime:
    """Return a time, or the first second after it at which nothing happened to the skull yet.

    Two steps of one morning keep the order in which they were entered.
    """
    taken = {event.happened_at for event in skull_events(book, name)}
    found = at.replace(microsecond=0)
    while found in taken:
        found += timedelta(seconds=1)
    return found


def correct_event(book: Logbook, event: SkullEvent, near: datetime) -> None:
    """Correct when something happened to a skull, and what is known of it.

    Parameters
    ----------
    book : Logbook
        Where it stands.
    event : SkullEvent
        What is right; what is None stays as it is.
    near : datetime.datetime
        The entered time, or about; the nearest event of the same kind is meant.

    Raises
    ------
    LogbookError
        When nothing of the kind is entered, or the same is entered then already, or the time lies
        in the future, or it would be moved to the tub that it lies in.
    """
    require_possible_time(event.happened_at)
    alike = [one for one in skull_events(book, event.skull) if one.kind is event.kind]
    if not alike:
        raise LogbookError(
            f"skull {event.skull} has no entry '{event.kind}'",
            hint="see the story of the skull",
        )
    wrong = min(alike, key=lambda one: abs(one.happened_at - near))
    with book.entry(f"corrected skull {event.skull} {event.kind}") as entry:
        if event.tub is not None:
            _require_tub(entry, event)
        if any(one.happened_at == event.happened_at for one in alike if one != wrong):
            raise _entered_already(event.skull)
        key = (event.skull, to_text(wrong.happened_at), event.kind)
        _refuse_out_of_order(entry, event, corrected=(key[1], key[2]))
        with _no_idle_move(book, event):
            entry.move(SKULL_EVENTS, key, values_of(event, known_only=True))


def enter_follow_up(book: Logbook, follow_up: FollowUp) -> None:
    """Enter how a finished skull looked later.

    Raises
    ------
    LogbookError
        When the skull is unknown or soaks for its first time, the time lies in the future, or the
        same is entered already.
    """
    require_possible_time(follow_up.seen_at)
    with book.entry(f"follow-up of skull {follow_up.skull}") as entry:
        require_skull(entry, follow_up.skull)
        _refuse_unfinished(entry, follow_up)
        key = (follow_up.skull, to_text(follow_up.seen_at))
        if entry.row(FOLLOW_UPS, key) is not None:
            raise _entered_already(follow_up.skull)
        entry.insert(FOLLOW_UPS, values_of(follow_up))


def list_skulls(book: Logbook) -> tuple[Skull, ...]:
    """Return the skulls by name."""
    return select(book, Skull, SKULLS, "WHERE merged_into IS NULL ORDER BY name")


def is_known(book: Logbook, name: str) -> bool:
    """Return whether a skull of the name is entered."""
    return any(one.name == name for one in list_skulls(book))


def name_of(book: Logbook, typed: str) -> str:
    """Return the name that a skull has or gets: as typed where one is called so, else tidied."""
    return typed if is_known(book, typed) else tidy_name(typed)


def skull_named(book: Logbook, name: str) -> Skull:
    """Return the skull called `name`.

    Raises
    ------
    LogbookError
        When there is none.
    """
    skulls = select(book, Skull, SKULLS, "WHERE name = ? AND merged_into IS NULL", (name,))
    if not skulls:
        refuse_old_name(book, name)
        raise _unknown(name, [found for (found,) in book.rows(EVERY_SKULL)])
    return skulls[0]


def follow_ups(book: Logbook, name: str) -> tuple[FollowUp, ...]:
    """Return the follow-ups of the skull called `name`, oldest first."""
    return select(book, FollowUp, FOLLOW_UPS, "WHERE skull = ? ORDER BY seen_at", (name,))


def every_follow_up(book: Logbook) -> tuple[FollowUp, ...]:
    """Return the follow-ups of all skulls, skull by skull, oldest first."""
    return select(book, FollowUp, FOLLOW_UPS, "ORDER BY skull, seen_at")


def require_skull(entry: Entry, name: str) -> None:
    """Raise LogbookError when there is no skull called `name`, or it has another name now."""
    row = entry.row(SKULLS, (name,))
    if row is None:
        raise _unknown(name, [str(found) for (found,) in entry.keys(SKULLS)])
    _refuse_renamed(name, SKULLS.value(row, "merged_into"))


def refuse_old_name(book: Logbook, name: str) -> None:
    """Raise LogbookError when a skull was called `name` and has another name now."""
    for (other,) in book.rows("SELECT merged_into FROM skulls WHERE name = ?", (name,)):
        _refuse_renamed(name, other)


def _refuse_renamed(name: str, other: Value) -> None:
    if other is not None:
        raise LogbookError(
            f"skull {name} is called {other} now",
            hint="use that name, or enter a new skull with its species",
        )


def _insert_event(entry: Entry, event: SkullEvent) -> None:
    require_possible_time(event.happened_at)
    if event.kind in INTO_A_TUB:
        _require_tub(entry, event)
    if event.kind is EventKind.WHITENED and None in (event.strength_percent, event.duration_h):
        raise LogbookError(
            f"skull {event.skull} was whitened, but how strongly and how long?",
            hint="give its strength in percent and the hours",
        )
    if entry.row(SKULL_EVENTS, (event.skull, to_text(event.happened_at), event.kind)) is not None:
        raise _entered_already(event.skull)
    _refuse_out_of_order(entry, event)
    entry.insert(SKULL_EVENTS, values_of(event))


def _refuse_out_of_order(
    entry: Entry, event: SkullEvent, *, corrected: tuple[str, str] = ("", "")
) -> None:
    """Refuse what cannot follow what happened to the skull before, or what comes after it then.

    Events that were out of order before, as an import may bring them, do not matter; `corrected`
    is the time and kind of the event that this one corrects, if it corrects one.
    """
    before = _times_and_kinds(entry, event.skull)
    if first_misstep([EventKind(kind) for _, kind in before]) is not None:
        return
    others = [one for one in before if one != corrected]
    then = sorted([*others, (to_text(event.happened_at), event.kind)])
    wrong = first_misstep([EventKind(kind) for _, kind in then])
    if wrong is not None:
        raise _cannot_follow(event.skull, wrong)


def _cannot_follow(skull: str, wrong: Misstep) -> LogbookError:
    missing = ", then ".join(wrong.missing)
    return LogbookError(
        f"skull {skull} {STANDS[wrong.stage]} by then; '{wrong.event}' cannot follow",
        hint=f"enter first: {missing}"
        if missing
        else "check the skull and the date, or enter the right date in place of a wrong one",
    )


def _refuse_unfinished(entry: Entry, follow_up: FollowUp) -> None:
    """Refuse a later look at a skull that still soaks; one that ever left its tub may be seen."""
    seen_at = to_text(follow_up.seen_at)
    kinds = {kind for at, kind in _times_and_kinds(entry, follow_up.skull) if at <= seen_at}
    if kinds and kinds <= {EventKind.ENTERED, EventKind.MOVED}:
        raise LogbookError(
            f"skull {follow_up.skull} is not finished: it still soaks",
            hint="first enter what became of it, such as degreased",
        )


def _times_and_kinds(entry: Entry, name: str) -> list[tuple[str, str]]:
    """Return time and kind of each event of a skull, in order."""
    return sorted((at, kind) for _, at, kind in entry.keys(SKULL_EVENTS, "skull", name))


def _require_tub(entry: Entry, event: SkullEvent) -> None:
    if event.tub is None:
        raise LogbookError(
            f"skull {event.skull} was {event.kind}, but into which tub?",
            hint="name the tub",
        )
    require_tub(entry, event.tub)


def written_alike(name: str, names: Sequence[str]) -> list[str]:
    r"""Return the other names that differ from `name` in case, spaces and coding of letters only.

    Examples
    --------
    >>> written_alike("fox3", ["Fox 3", "fox 4", "fox3", "fox\N{NO-BREAK SPACE}3"])
    ['Fox 3', 'fox\xa03']
    """
    return [one for one in names if one != name and letters_of(one) == letters_of(name)]


def _unknown(name: str, names: Sequence[str]) -> LogbookError:
    near = written_alike(name, names) or get_close_matches(name, names)
    meant = f"is it one of: {', '.join(near)}? " if near else ""
    return LogbookError(
        f"no skull is called '{name}'",
        hint=f"{meant}see the list of skulls; enter a new skull",
    )


def _entered_already(name: str) -> LogbookError:
    return LogbookError(
        f"the same is entered already for skull {name} at that time",
        hint="give another time, or take the other entry back",
    )
