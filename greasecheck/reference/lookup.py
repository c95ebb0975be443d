"""Reads CSV tables headed by '# key: value' lines that name their source."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.errors import DataFileError

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.model import FloatArray

HEADER_KEYS = ("title", "source", "author", "year", "doi", "licence", "units")


@dataclass(frozen=True, slots=True, kw_only=True)
class LookupTable:
    """A table of data with its source.

    Attributes
    ----------
    path : pathlib.Path
        Where it was read from.
    header : dict
        At least `HEADER_KEYS`.
    names : tuple of str
        Column names.
    rows : tuple of dict
        The values as written, by column name.
    """

    path: Path
    header: dict[str, str]
    names: tuple[str, ...]
    rows: tuple[dict[str, str], ...]

    def texts(self, name: str) -> tuple[str, ...]:
        """Return a column as written.

        Raises
        ------
        DataFileError
            When there is no such column.
        """
        if name not in self.names:
            raise _error(self.path, f"the column '{name}' is missing")
        return tuple(row[name] for row in self.rows)

    def numbers(self, name: str) -> FloatArray:
        """Return a column as numbers, shape (rows,); an empty value is NaN.

        Raises
        ------
        DataFileError
            When there is no such column or it holds something else.
        """
        import numpy as np  # noqa: PLC0415 - keeps the start of commands that only read words light

        try:
            return np.array([float(text or "nan") for text in self.texts(name)], dtype=np.float64)
        except ValueError as error:
            raise _error(self.path, f"the column '{name}': {error}") from error

    def values(self) -> dict[str, float]:
        """Return the numbers of the column `value` by those of `name`, without loading numpy."""
        return dict(zip(self.texts("name"), map(float, self.texts("value")), strict=True))


def read_lookup(path: Path) -> LookupTable:
    """Read a table from calibration/ or one laid out like it.

    Parameters
    ----------
    path : pathlib.Path
        UTF-8 text: lines '# key: value', a line of names, lines of values.

    Raises
    ------
    DataFileError
        When the file cannot be read, a header key is missing, or a row is not as long as the
        line of names.

    Examples
    --------
    >>> from greasecheck.reference import data_folder
    >>> table = read_lookup(data_folder("calibration") / "cie_d65.csv")
    >>> table.header["units"]
    'wavelength_nm: nm; relative_power: 100 at 560 nm'
    """
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise _error(path, f"it cannot be read: {error}") from error
    header = _header(path, [line for line in lines if line.startswith("#")])
    names, *rows = _cells(path, [line for line in lines if not line.startswith("#")])
    uneven = [n for n, row in enumerate(rows, start=1) if len(row) != len(names)]
    if uneven:
        raise _error(path, f"its row {uneven[0]} does not have {len(names)} values")
    if not rows:
        raise _error(path, "it holds no rows")
    by_name = tuple(dict(zip(names, row, strict=True)) for row in rows)
    return LookupTable(path=path, header=header, names=names, rows=by_name)


def _cells(path: Path, lines: list[str]) -> list[tuple[str, ...]]:
    try:
        return [tuple(row) for row in csv.reader(lines) if row] or [()]
    except csv.Error as error:
        raise _error(path, f"it is not CSV: {error}") from error


def _header(path: Path, lines: list[str]) -> dict[str, str]:
    pairs = [line.lstrip("# ").partition(":") for line in lines if ":" in line]
    header = {key.strip().lower(): value.strip() for key, _, value in pairs}
    missing = [key for key in HEADER_KEYS if not header.get(key)]
    if missing:
        raise _error(path, f"its header lacks {', '.join(missing)}")
    return header


def _error(path: Path, problem: str) -> DataFileError:
    return DataFileError(
        f"the table {path.name}: {problem}",
        hint="compare it with the tables in calibration/, which come with greasecheck",
    )
