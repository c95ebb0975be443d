"""Carries records into rows and back, by the names their fields share with a table's columns."""

from __future__ import annotations

from dataclasses import fields
from datetime import datetime
from typing import TYPE_CHECKING, Any, TypeVar

from greasecheck.logbook.store.columns import Kind
from greasecheck.logbook.store.times import from_text, to_text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from greasecheck.logbook.store.book import Entry, Logbook
    from greasecheck.logbook.store.columns import Column, Value
    from greasecheck.logbook.store.table import Table

RecordT = TypeVar("RecordT")


def values_of(record: Any, *, known_only: bool = False) -> dict[str, Value]:  # noqa: ANN401 - any dataclass
    """Return the fields of a record as stored values; `known_only` leaves out those of None."""
    values = {field.name: stored(getattr(record, field.name)) for field in fields(record)}
    return {name: value for name, value in values.items() if value is not None or not known_only}


def stored(value: datetime | Value) -> Value:
    """Return `value` as the logbook stores it: times as text, yes and no as 1 and 0."""
    if isinstance(value, datetime):
        return to_text(value)
    return int(value) if isinstance(value, bool) else value


def select(
    book: Logbook,
    record: type[RecordT],
    table: Table,
    rest: str = "",
    parameters: Iterable[Value] = (),
) -> tuple[RecordT, ...]:
    """Return the rows of `table` as records; `rest` is the SQL after the table's name."""
    wanted = {field.name for field in fields(record)}  # type: ignore[arg-type]
    columns = tuple(column for column in table.columns if column.name in wanted)
    names = ", ".join(column.name for column in columns)
    rows = book.rows(f"SELECT {names} FROM {table.name} {rest}", parameters)
    decoders = tuple(_decoder(column) for column in columns)
    keys = tuple(column.name for column in columns)
    return tuple(
        record(
            **{
                key: decode(value) if decode is not None and value is not None else value
                for key, decode, value in zip(keys, decoders, row, strict=True)
            }
        )
        for row in rows
    )


def _decoder(column: Column) -> Callable[[Any], Any] | None:
    """Return what makes of a stored value the one its record holds; None where they are one."""
    if column.choices:
        return {str(choice): choice for choice in type(column.choices[0])}.__getitem__
    if column.kind is Kind.TIME:
        return from_text
    return bool if column.kind is Kind.FLAG else None


def is_former_name(entry: Entry, table: Table, name: Value) -> bool:
    """Return whether `name` is a former name of a skull, or number of a tub, that has another now.

    Parameters
    ----------
    entry : Entry
        Through which the table is read.
    table : Table
        Of the skulls or of the tubs.
    name : str or int
        The name or number.
    """
    row = entry.row(table, (name,))
    return row is not None and table.value(row, "merged_into") is not None
