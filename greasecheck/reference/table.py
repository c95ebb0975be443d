"""Reads the CSV tables of calibration/: `# key: value` lines, then names, then rows."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.errors import DataFileError
from greasecheck.reference.folder import data_folder

if TYPE_CHECKING:
    from pathlib import Path

HEADER_KEYS = ("title", "source", "author", "year", "doi", "licence", "units")


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A calibration table.

    Attributes
    ----------
    header : dict of str to str
        Where the data came from; holds each of `HEADER_KEYS`.
    rows : tuple of dict
        One per line, by column name.
    """

    header: dict[str, str]
    rows: tuple[dict[str, str], ...]


def read_table(path: Path) -> Table:
    """Read a calibration table.

    Raises
    ------
    DataFileError
        When the file cannot be read, a header key is missing or a row has too few columns.

    Examples
    --------
    >>> read_table(data_folder("calibration") / "species.csv").header["source"]
    'common practice, no source'
    """
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise DataFileError(
            f"cannot read the table {path}: {error}", hint="check the file's name and text"
        ) from error
    header = dict(_key_value(line) for line in lines if line.startswith("#"))
    rows = tuple(csv.DictReader(line for line in lines if line and not line.startswith("#")))
    missing = [key for key in HEADER_KEYS if not header.get(key)]
    if missing or not rows or any(None in row or None in row.values() for row in rows):
        raise DataFileError(
            f"the table {path} lacks {', '.join(missing) or 'rows or columns'}",
            hint="compare it with species.csv, which comes with greasecheck",
        )
    return Table(header=header, rows=rows)


def _key_value(line: str) -> tuple[str, str]:
    key, _, value = line.removeprefix("#").partition(":")
    return key.strip(), value.strip()
