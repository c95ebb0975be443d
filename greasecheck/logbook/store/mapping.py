"""Carries records into rows and back, by the names their fields share with a table's columns."""

from __future__ import annotations

from dataclasses import fields
from datetime import datetime
from typing import TYPE_CHECKING, Any, TypeVar

from greasecheck.logbook.store.columns import Kind
from greasecheck.logbook.store.times import from_text, to_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from greasecheck.logbook.store.book import Logbook
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
    coded = [(at, column) for at, column in enumerate(columns) if _is_coded(column)]
    return tuple(record(**_named(columns, row, coded)) for row in rows)


def _named(
    columns: Sequence[Column], row: tuple[Any, ...], coded: Sequence[tuple[int, Column]]
) -> dict[str, Any]:
    values = {column.name: value for column, value in zip(columns, row, strict=True)}
    for at, column in coded:
        values[column.name] = revived(column, row[at])
    return values


def _is_coded(column: Column) -> bool:
    """Whether a column's values are stored otherwise than their record holds them."""
    return bool(column.choices) or column.kind in (Kind.TIME, Kind.FLAG)


def revived(column: Column, value: Any) -> Any:  # noqa: ANN401 - the column decides
    """Return a stored value as its record holds it."""
    if value is None:
        return None
    if column.choices:
        return type(column.choices[0])(value)
    if column.kind is Kind.TIME:
        return from_text(value)
    return bool(value) if column.kind is Kind.FLAG else value
