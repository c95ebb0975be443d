"""Tubs and their baths: entering them, changing the water, dumping it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.logbook.records import Bath, Tub
from greasecheck.logbook.store.mapping import is_former_name, select, values_of
from greasecheck.logbook.store.tables import BATHS, TUBS
from greasecheck.logbook.store.times import EARLIEST, LATER_THAN_ANY, from_text, now, to_text
from greasecheck.logbook.water.names import refused_namesakes
from greasecheck.model import Recipe
from greasecheck.words.figures import numbers_words
from greasecheck.words.times import exact

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

    from greasecheck.logbook.store.book import Entry, Logbook
    from greasecheck.logbook.store.columns import Value

ACETONE_BOILS_C = 56.0  # CRC Handbook of Chemistry and Physics (from memory)
JUST_CHANGED = timedelta(minutes=30)  # nobody changes the same water twice so soon


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """What goes into a tub at a water change; None keeps what the last bath had.

    Attributes
    ----------
    recipe : Recipe or None
        What the new bath is made of.
    temperature_c : float or None
        Temperature it is held at [degrees C].
    carry_over_share : float or None
        Share of the old bath that stays, 0 to 1; None when nobody looked.
    why, note : str or None
        Why the water is changed, and anything else.
    """

    recipe: Recipe | None = None
    temperature_c: float | None = None
    carry_over_share: float | None = None
    why: str | None = None
    note: str | None = None


def enter_tub(book: Logbook, tub: Tub) -> None:
    """Enter a tub, or change what is known of it; None leaves a field as it is.

    One under a former number of another tub begins without what was known under that number.

    Raises
    ------
    LogbookError
        When it was checked, or begins, in the future, or another tub has its name.
    """
    for at in (tub.checked_at, tub.started_at):
        if at is not None:
            require_possible_time(at)
    what = f"tub {tub.number}{' found well' if tub.checked_at else ''}"
    with book.entry(what) as entry, refused_namesakes(book):
        is_former = is_former_name(entry, TUBS, tub.number)
        entry.put(TUBS, {**values_of(tub, known_only=not is_former), "merged_into": None})


def list_tubs(book: Logbook) -> tuple[Tub, ...]:
    """Return the tubs by number."""
    return select(book, Tub, TUBS, "WHERE merged_into IS NULL ORDER BY number")


def former_numbers(book: Logbook, number: int) -> tuple[int, ...]:
    """Return the numbers that a tub had before its present one, the smallest first."""
    sql = """WITH RECURSIVE former (number) AS (
        SELECT number FROM tubs WHERE merged_into = ?
        UNION SELECT tubs.number FROM tubs JOIN former ON merged_into = former.number)
        SELECT number FROM former ORDER BY number"""
    return tuple(int(found) for (found,) in book.rows(sql, (number,)))


def tub_numbered(book: Logbook, number: int) -> Tub:
    """Return the tub of a number.

    Raises
    ------
    LogbookError
        When none has it, or the one that had it has another number now.
    """
    for tub in list_tubs(book):
        if tub.number == number:
            return tub
    refuse_old_number(book, number)
    raise _unknown(number)


def ensure_tub(entry: Entry, number: int) -> bool:
    """Enter tub `number` without a name if it is unknown; return whether it was.

    A number that a tub had before it got another one is that of a new tub.
    """
    if is_former_name(entry, TUBS, number):
        facts = (name for name in TUBS.names if name not in TUBS.key)
        entry.update(TUBS, (number,), dict.fromkeys(facts))
    elif entry.row(TUBS, (number,)) is None:
        entry.insert(TUBS, {"number": number})
    else:
        return False
    return True


def change_water(
    book: Logbook, tubs: Iterable[int], filled_at: datetime, filling: Filling
) -> tuple[Bath, ...]:
    """Enter a water change of each of `tubs`, all of them or none.

    Parameters
    ----------
    book : Logbook
        Where to enter it.
    tubs : iterable of int
        Numbers of the tubs.
    filled_at : datetime.datetime
        When the new bath went in; not in the future.
    filling : Filling
        The new bath.

    Returns
    -------
    tuple of Bath
        The new baths.

    Raises
    ------
    LogbookError
        When a tub is unknown, was filled at the same second, has no earlier bath to repeat, or
        the time lies in the future.
    """
    require_possible_time(filled_at)
    numbers = tuple(dict.fromkeys(tubs))
    with book.entry(f"water change of tub {numbers_words(numbers)}") as entry:
        for tub in numbers:
            require_tub(entry, tub)
        baths = tuple(_new_bath(book, tub, filled_at, filling) for tub in numbers)
        for bath in baths:
            _insert_bath(entry, bath)
    return baths


def correct_change(
    book: Logbook, tub: int, near: datetime, filled_at: datetime, filling: Filling
) -> Bath:
    """Correct when a water change was, and what is known of it; None leaves a field as it is.

    Parameters
    ----------
    book : Logbook
        Where it stands.
    tub : int
        Number of the tub.
    near : datetime.datetime
        The entered time, or about; the nearest change is meant.
    filled_at : datetime.datetime
        When it really was; not in the future.
    filling : Filling
        What else to correct.

    Raises
    ------
    LogbookError
        When the tub has no change, another one then, or was emptied by then, or the time lies
        in the future.
    """
    require_possible_time(filled_at)
    wrong = nearest_change(book, tub, near)
    if wrong.dumped_at is not None and filled_at >= wrong.dumped_at:
        raise LogbookError(
            f"tub {tub} was emptied before that", hint="give a time before it was emptied"
        )
    refuse_boiling(
        filling.recipe or wrong.recipe,
        wrong.temperature_c if filling.temperature_c is None else filling.temperature_c,
    )
    known = {**values_of(filling, known_only=True), "filled_at": to_text(filled_at)}
    with book.entry(f"corrected a water change of tub {tub}") as entry:
        if filled_at != wrong.filled_at:
            _refuse_taken(entry, tub, filled_at)
        entry.move(BATHS, (tub, to_text(wrong.filled_at)), known)
    right = bath_at(book, tub, filled_at)
    assert right is not None, "it was just entered"
    return right


def nearest_change(book: Logbook, tub: int, near: datetime) -> Bath:
    """Return the water change of a tub that was entered for about a time.

    Raises
    ------
    LogbookError
        When the tub has no change.
    """
    baths = list_baths(book, tub)
    if not baths:
        raise LogbookError(f"tub {tub} has no water change", hint="see the list of tubs")
    return min(baths, key=lambda bath: abs(bath.filled_at - near))


def dump_water(book: Logbook, tubs: Iterable[int], dumped_at: datetime) -> None:
    """Enter that the baths of `tubs` were dumped without a refill, all of them or none.

    Raises
    ------
    LogbookError
        When a tub holds no bath then, or the time lies in the future.
    """
    require_possible_time(dumped_at)
    numbers = tuple(dict.fromkeys(tubs))
    with book.entry(f"emptied tub {numbers_words(numbers)}") as entry:
        for tub in numbers:
            bath = bath_at(book, tub, dumped_at)
            if bath is None:
                raise LogbookError(
                    f"tub {tub} holds no bath at that time",
                    hint="enter its bath first",
                )
            key = (tub, to_text(bath.filled_at))
            entry.update(BATHS, key, {"dumped_at": to_text(dumped_at)})


def warmest_by_recipe(book: Logbook, *, left_out: Bath | None = None) -> dict[Recipe, float | None]:
    """Return each recipe that a bath ever was of, with the warmest of them [degrees C].

    Parameters
    ----------
    book : Logbook
        Where to look.
    left_out : Bath or None
        A bath that is not counted.
    """
    key = (left_out.tub, to_text(left_out.filled_at)) if left_out else (None, None)
    rows = book.rows(
        """SELECT recipe, max(temperature_c) FROM baths
        WHERE (tub, filled_at) IS NOT (?, ?) GROUP BY recipe""",
        key,
    )
    return {Recipe(recipe): warmest for recipe, warmest in rows}


def list_baths(
    book: Logbook, tub: int, *, since: datetime | None = None, until: datetime | None = None
) -> tuple[Bath, ...]:
    """Return the baths of `tub`, oldest first.

    Parameters
    ----------
    book : Logbook
        Where to look.
    tub : int
        Number of the tub.
    since, until : datetime.datetime or None
        Leave out those that had been replaced by `since`, and those filled from `until` on.
    """
    first = "SELECT max(filled_at) FROM baths WHERE tub = ? AND filled_at <= ?"
    rest = f"""WHERE tub = ? AND filled_at >= coalesce(({first}), '') AND filled_at < ?
        ORDER BY filled_at"""
    start, end = to_text(since) if since else "", to_text(until) if until else LATER_THAN_ANY
    return select(book, Bath, BATHS, rest, (tub, tub, start, end))


def bath_at(book: Logbook, tub: int, time: datetime) -> Bath | None:
    """Return the bath that `tub` holds at `time`, or None."""
    bath = _last_filling(book, tub, time)
    dumped = bath is None or (bath.dumped_at is not None and bath.dumped_at <= time)
    return None if dumped else bath


def emptied_at(book: Logbook, tub: int) -> datetime | None:
    """Return when a bath of `tub` was last dumped without a refill; None when none was."""
    ((text,),) = book.rows("SELECT max(dumped_at) FROM baths WHERE tub = ?", (tub,))
    return from_text(text) if text else None


def tub_start(book: Logbook, tub: int) -> datetime | None:
    """Return the first day of `tub`: as entered, or its first filling; None when unknown."""
    sql = """SELECT min(time) FROM (
        SELECT started_at AS time FROM tubs WHERE number = ?
        UNION ALL SELECT min(filled_at) FROM baths WHERE tub = ?)"""
    ((text,),) = book.rows(sql, (tub, tub))
    return from_text(text) if text else None


def require_possible_time(time: datetime) -> None:
    """Raise LogbookError when `time` has not come yet, or its year is a slip of the pen."""
    if to_text(time) > to_text(now()):
        raise LogbookError(
            f"{exact(time)} lies in the future",
            hint="check the date given, and this computer's clock",
        )
    if to_text(time) < EARLIEST:
        raise LogbookError(f"{exact(time)} is too long ago", hint="check the year given")


def require_tub(entry: Entry, tub: int) -> None:
    """Raise LogbookError when tub number `tub` is not in the logbook, or has another number now."""
    row = entry.row(TUBS, (tub,))
    if row is None:
        raise _unknown(tub)
    _refuse_renumbered(tub, TUBS.value(row, "merged_into"))


def _unknown(tub: int) -> LogbookError:
    return LogbookError(
        f"tub {tub} is not in the logbook", hint="check the number, or enter the tub first"
    )


def refuse_old_number(book: Logbook, tub: int) -> None:
    """Raise LogbookError when a tub had the number `tub` and has another one now."""
    for (other,) in book.rows("SELECT merged_into FROM tubs WHERE number = ?", (tub,)):
        _refuse_renumbered(tub, other)


def _refuse_renumbered(tub: int, number: Value) -> None:
    if number is not None:
        raise LogbookError(
            f"tub {tub} is tub {number} now",
            hint=f"name tub {number}, or enter a new tub {tub} with its name or volume",
        )


def _last_filling(book: Logbook, tub: int, time: datetime) -> Bath | None:
    rest = "WHERE tub = ? AND filled_at <= ? ORDER BY filled_at DESC LIMIT 1"
    baths = select(book, Bath, BATHS, rest, (tub, to_text(time)))
    return baths[0] if baths else None


def _new_bath(book: Logbook, tub: int, filled_at: datetime, filling: Filling) -> Bath:
    last = _last_filling(book, tub, filled_at)
    recipe = filling.recipe or (last.recipe if last else None)
    if recipe is None:
        raise _nothing_to_repeat(book, tub)
    temperature_c = filling.temperature_c
    acetone_then, acetone_now = (one is Recipe.ACETONE for one in (last and last.recipe, recipe))
    if temperature_c is None and last and acetone_then == acetone_now:
        temperature_c = _last_temperature_c(book, last, filled_at)
    refuse_boiling(recipe, temperature_c)
    return Bath(
        tub=tub,
        filled_at=filled_at,
        recipe=recipe,
        temperature_c=temperature_c,
        carry_over_share=filling.carry_over_share,
        why=filling.why,
        note=filling.note,
    )


def _nothing_to_repeat(book: Logbook, tub: int) -> LogbookError:
    """Return the error of a change that repeats a bath where none was before."""
    first = next(iter(list_baths(book, tub)), None)
    if first is not None:
        return LogbookError(
            f"tub {tub} was first filled later, on {exact(first.filled_at)}",
            hint="check the date, or say what goes in",
        )
    return LogbookError(
        f"tub {tub} has no earlier bath whose recipe could be repeated", hint="say what goes in"
    )


def boils(recipe: Value, temperature_c: Value) -> bool:
    """Return whether a bath would boil: acetone at 56 degrees C and more."""
    return recipe == Recipe.ACETONE and float(temperature_c or 0.0) >= ACETONE_BOILS_C


def refuse_boiling(recipe: Recipe, temperature_c: float | None) -> None:
    """Refuse an acetone bath at a temperature [degrees C] at which acetone boils.

    Raises
    ------
    LogbookError
        When it is that hot.
    """
    if boils(recipe, temperature_c):
        raise LogbookError(
            f"acetone boils at {ACETONE_BOILS_C:.0f} °C and its vapour catches fire: no acetone "
            f"bath has {temperature_c:g} °C",
            hint="never warm acetone: heater off; then check recipe and temperature",
        )


def _last_temperature_c(book: Logbook, bath: Bath, time: datetime) -> float | None:
    """Return the temperature that was last entered for a bath by a time [degrees C]."""
    found = book.rows(
        "SELECT temperature_c FROM temperatures WHERE tub = ? AND at >= ? AND at <= ?"
        " ORDER BY at DESC LIMIT 1",
        (bath.tub, to_text(bath.filled_at), to_text(time)),
    )
    return float(found[0][0]) if found else bath.temperature_c


def _insert_bath(entry: Entry, bath: Bath) -> None:
    _refuse_taken(entry, bath.tub, bath.filled_at)
    entry.insert(BATHS, values_of(bath))


def _refuse_taken(entry: Entry, tub: int, filled_at: datetime) -> None:
    if entry.row(BATHS, (tub, to_text(filled_at))) is not None:
        raise LogbookError(
            f"tub {tub} already has a water change at {exact(filled_at)}",
            hint="give another time, or take the other entry back",
        )
