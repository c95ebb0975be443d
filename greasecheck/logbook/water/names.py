"""Names of tubs: no two tubs may have the same, whatever its case and spaces."""

from __future__ import annotations

from collections import defaultdict
from contextlib import contextmanager
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.logbook.store.columns import letters_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from greasecheck.logbook.store.book import Logbook


@contextmanager
def refused_namesakes(book: Logbook) -> Iterator[None]:
    """Refuse to enter what gives two tubs one name.

    Tubs that had one name before, as older logbooks may hold them, are in nobody's way.

    Raises
    ------
    LogbookError
        When two tubs have one name that had two before.
    """
    before = {letters: len(tubs) for letters, tubs in _by_letters(book).items()}
    yield
    for letters, tubs in _by_letters(book).items():
        if len(tubs) > max(before.get(letters, 0), 1):
            [*_, (one, _), (other, name)] = tubs
            raise LogbookError(
                f"tub {one} and tub {other} would have the same name, '{name}'",
                hint="give one of them another name; capitals and spaces make no difference",
            )


def names_of_tubs(book: Logbook) -> list[tuple[int, str]]:
    """Return the number and the name of each tub that has a name, by number."""
    sql = "SELECT number, name FROM tubs WHERE name IS NOT NULL AND merged_into IS NULL"
    return [(int(number), str(name)) for number, name in book.rows(f"{sql} ORDER BY number")]


def _by_letters(book: Logbook) -> dict[str, list[tuple[int, str]]]:
    """Return the tubs that have a name, number and name, by its letters."""
    found = defaultdict[str, list[tuple[int, str]]](list)
    for number, name in names_of_tubs(book):
        found[letters_of(name)].append((number, name))
    return found
