"""What a table of the logbook is, and the kinds of column it is made of."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.logbook.store.columns import Column, Kind, Value

if TYPE_CHECKING:
    from collections.abc import Mapping
    from enum import StrEnum

Row = tuple[Value, ...]

LAST_TUB = 99_999  # no other whole number of a table is larger


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table.

    Attributes
    ----------
    name, meaning : str
        What it is called and holds.
    key : tuple of str
        The columns that identify rows.
    columns : tuple of Column
        The columns in order.
    happened : str or None
        SQL for when a row came true; None where it holds at any time, as a name does.
    blank_until : str or None
        The column of a time within a row that is blank before it.
    names : tuple of str
        Their names.
    key_indices : tuple of int
        Where in a row the key's columns are.
    """

    name: str
    meaning: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]
    happened: str | None = None
    blank_until: str | None = None
    names: tuple[str, ...] = field(init=False)
    key_indices: tuple[int, ...] = field(init=False)

    def __post_init__(self) -> None:
        names = tuple(column.name for column in self.columns)
        object.__setattr__(self, "names", names)
        object.__setattr__(self, "key_indices", tuple(names.index(name) for name in self.key))

    @property
    def order(self) -> tuple[str, ...]:
        """Return the columns by which rows are sorted when written out."""
        return ("tub", "taken_at", "key") if self.name == "readings" else self.key

    def key_of(self, row: Row) -> Row:
        """Return the part of `row` that identifies it."""
        return tuple(row[index] for index in self.key_indices)

    def value(self, row: Row, name: str) -> Value:
        """Return the value of `row` in the column called `name`."""
        return row[self.names.index(name)]

    def row(self, values: Mapping[str, Value]) -> Row:
        """Return `values` in column order, checked; an absent one is the column's default.

        Raises
        ------
        LogbookError
            When a value is not allowed in its column.
        """
        return tuple(
            _checked(column, values.get(column.name, column.default)) for column in self.columns
        )

    def cell(self, name: str, value: Value) -> Value:
        """Return `value` if the column called `name` may hold it.

        Raises
        ------
        LogbookError
            When it may not.
        """
        return _checked(self.column(name), value)

    def column(self, name: str) -> Column:
        """Return the column called `name`."""
        return self.columns[self.names.index(name)]


def _checked(column: Column, value: Value) -> Value:
    try:
        return column.checked(value)
    except ValueError as error:
        raise LogbookError(
            f"{column.name.replace('_', ' ')}: {error}", hint=f"it means: {column.meaning}"
        ) from error


def text_column(name: str, meaning: str, *, required: bool = False) -> Column:
    """Return a column of text."""
    return Column(name=name, kind=Kind.TEXT, meaning=meaning, required=required)


def name_column(name: str, meaning: str, *, required: bool = False) -> Column:
    """Return a column of names: short, of one line."""
    return Column(name=name, kind=Kind.TEXT, meaning=meaning, required=required, is_name=True)


def choice_column(
    name: str, meaning: str, choices: type[StrEnum], *, required: bool = False
) -> Column:
    """Return a column that holds one of `choices`."""
    return Column(
        name=name, kind=Kind.TEXT, meaning=meaning, choices=tuple(choices), required=required
    )


def time_column(name: str, meaning: str, *, required: bool = False) -> Column:
    """Return a column of times."""
    return Column(name=name, kind=Kind.TIME, meaning=meaning, required=required)


def number_column(
    name: str, meaning: str, lowest: float = -1e6, highest: float = 1e6, *, required: bool = False
) -> Column:
    """Return a column of numbers within limits."""
    return Column(
        name=name,
        kind=Kind.NUMBER,
        meaning=meaning,
        lowest=lowest,
        highest=highest,
        required=required,
    )


def whole_column(name: str, meaning: str, *, required: bool = False, lowest: int = 0) -> Column:
    """Return a column of whole numbers."""
    return Column(
        name=name,
        kind=Kind.WHOLE,
        meaning=meaning,
        required=required,
        lowest=lowest,
        highest=LAST_TUB,
    )


def share_column(name: str, meaning: str) -> Column:
    """Return a column of shares, 0 to 1."""
    return number_column(name, f"{meaning} [0 to 1]", 0.0, 1.0)


def json_column(name: str, meaning: str, *, required: bool = False) -> Column:
    """Return a column of JSON text."""
    return Column(name=name, kind=Kind.JSON, meaning=meaning, required=required)
