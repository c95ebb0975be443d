"""What a column of the logbook holds, and how its values are read, checked and written as text."""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING, TypeAlias
from unicodedata import category, normalize

from greasecheck.errors import LogbookError
from greasecheck.logbook.store.times import to_text

if TYPE_CHECKING:
    from collections.abc import Callable

Value: TypeAlias = str | int | float | None

LARGEST_WHOLE = 2**53  # every whole number up to here survives a spreadsheet's doubles
_UNPRINTABLE = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")

# Marks that embed, override or isolate a direction (Unicode UAX 9, section 2), and line breaks.
_NO_NAME = re.compile(r"[\t\n\r\x85\u2028\u2029\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
LONGEST_NAME = 200
# Texts that spreadsheets take for formulas stand behind an apostrophe in CSV, as do those that
# begin with one: common practice.
GUARD = "'"
_FORMULA = re.compile(r"[=+\-@\t\r']")


class Kind(StrEnum):
    """The kinds of value a column holds."""

    TEXT = "text"
    WHOLE = "whole number"
    NUMBER = "number"
    TIME = "time with zone, ISO 8601"
    FLAG = "yes or no"
    JSON = "JSON"


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column: its kind, its meaning with the unit, and its limits.

    Attributes
    ----------
    name, kind, meaning : str, Kind, str
        What it is called, holds and means, the unit in square brackets.
    required : bool
        Whether it may not be blank.
    lowest, highest : float
        Limits of a number, both allowed.
    choices : tuple of StrEnum
        The only texts allowed; empty for any.
    default : str, int, float or None
        What a blank stands for.
    is_name : bool
        Whether it is a short text of one line, without marks that turn its direction.
    """

    name: str
    kind: Kind
    meaning: str
    required: bool = False
    lowest: float = -math.inf
    highest: float = math.inf
    choices: tuple[StrEnum, ...] = ()
    default: Value = None
    is_name: bool = False

    def parse(self, cell: str) -> Value:
        """Return the value that `cell` of a CSV file stands for.

        Raises
        ------
        ValueError
            With what is wrong, for people.
        """
        if not cell:
            return self.checked(self.default) if self.required else self.default
        return self.checked(_PARSERS[self.kind](self._without_guard(cell)))

    def checked(self, value: Value) -> Value:
        """Return `value` if the column may hold it.

        Raises
        ------
        ValueError
            With what is wrong, for people.
        """
        if value is None:
            if self.required:
                raise ValueError("it is missing")
            return None
        if isinstance(value, str):
            self._check_text(value)
        elif not self.lowest <= value <= self.highest:
            raise ValueError(f"{_plain(value)} is {self._range_in_words()}")
        return value

    def written(self, value: Value) -> str:
        """Return the CSV cell for `value`; `parse` gives it back exactly."""
        if value is None:
            return ""
        if self.kind is Kind.FLAG:
            return "yes" if value else "no"
        text = repr(value) if isinstance(value, float) else str(value)
        return f"{GUARD}{text}" if self.kind is Kind.TEXT and _FORMULA.match(text) else text

    def _without_guard(self, cell: str) -> str:
        guarded = self.kind is Kind.TEXT and cell.startswith(GUARD) and _FORMULA.match(cell[1:])
        return cell[1:] if guarded else cell

    def _check_text(self, text: str) -> None:
        if self.choices and text not in self.choices:
            raise ValueError(f"'{text}' is not one of: {', '.join(self.choices)}")
        if _UNPRINTABLE.search(text):
            raise ValueError("it holds characters that cannot be printed")
        if self.is_name and _NO_NAME.search(text):
            raise ValueError("it holds line breaks, tabs, or marks that turn the direction of text")
        if self.is_name and len(text) > LONGEST_NAME:
            raise ValueError(f"it is longer than {LONGEST_NAME} characters")
        if not any(is_seen(letter) for letter in text):
            raise ValueError("it is empty text")

    def _range_in_words(self) -> str:
        if math.isinf(self.highest):
            return f"less than {_plain(self.lowest)}"
        if math.isinf(self.lowest):
            return f"more than {_plain(self.highest)}"
        return f"not from {_plain(self.lowest)} to {_plain(self.highest)}"


def _plain(value: float) -> str:
    """Return a number as people write it: a whole one without a point or a power of ten."""
    is_whole = abs(value) < LARGEST_WHOLE and value == round(value)
    return f"{value:.0f}" if is_whole else f"{value:g}"


def tidy_name(typed: str) -> str:
    """Return a name without the plain blanks around it, and with one where several were typed.

    Examples
    --------
    >>> tidy_name(" fox   3 ")
    'fox 3'
    """
    return " ".join(filter(None, typed.split(" ")))


def letters_of(name: str) -> str:
    """Return what is seen of a name (Unicode UAX 15, form NFKC): no spaces, no case.

    Examples
    --------
    >>> letters_of("By the Door") == letters_of("by  the door")
    True
    """
    return "".join(filter(is_seen, normalize("NFKC", name))).casefold()


def is_seen(letter: str) -> bool:
    """Return whether a letter shows: no space and no format character (Unicode category Cf)."""
    return not letter.isspace() and category(letter) != "Cf"


def _parse_whole(cell: str) -> int:
    try:
        value = int(cell)
    except ValueError:
        raise ValueError(f"'{cell}' is not a whole number") from None
    if abs(value) > LARGEST_WHOLE:
        raise ValueError(f"{cell} is too large")
    return value


def _parse_number(cell: str) -> float:
    try:
        value = float(cell)
    except ValueError:
        hint = "; write the decimals after a point" if "," in cell else ""
        raise ValueError(f"'{cell}' is not a number{hint}") from None
    if not math.isfinite(value):
        raise ValueError(f"'{cell}' is not a finite number; leave it blank when unknown")
    return value


def _parse_time(cell: str) -> str:
    try:
        return to_text(datetime.fromisoformat(cell))
    except ValueError:
        raise ValueError(f"'{cell}' is not a time such as 2026-03-04T18:05:00Z") from None
    except LogbookError as error:
        raise ValueError(f"{error.problem}; {error.hint}") from None


def _parse_flag(cell: str) -> int:
    if cell not in ("yes", "no"):
        raise ValueError(f"'{cell}' is neither yes nor no")
    return int(cell == "yes")


def _parse_json(cell: str) -> str:
    try:
        json.loads(cell)
    except ValueError:
        raise ValueError("it is not valid JSON") from None
    return cell


_PARSERS: dict[Kind, Callable[[str], Value]] = {
    Kind.TEXT: str,
    Kind.WHOLE: _parse_whole,
    Kind.NUMBER: _parse_number,
    Kind.TIME: _parse_time,
    Kind.FLAG: _parse_flag,
    Kind.JSON: _parse_json,
}
