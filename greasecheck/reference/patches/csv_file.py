"""Reads patch values kept as CSV, as the table that CGATS text gives."""

from __future__ import annotations

import csv
import re
from typing import TYPE_CHECKING

from greasecheck.reference.patches.cgats import (
    CgatsRow,
    CgatsTable,
    patch_file_error,
    read_patch_text,
)

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

# Column headings for the fields of CGATS.17, upper case
COLUMNS = {
    "L*": "LAB_L", "A*": "LAB_A", "B*": "LAB_B", "CIE_L": "LAB_L", "CIE_A": "LAB_A",
    "CIE_B": "LAB_B", "X": "XYZ_X", "Y": "XYZ_Y", "Z": "XYZ_Z",
}  # fmt: skip
NAME_FIELD = "SAMPLE_ID"
NAME_COLUMNS = ("SAMPLE_ID", "SAMPLE_NAME", "PATCH", "PATCH_NAME", "NAME")
# ISO 13655:2017, 6.3 asks of CIELAB in graphic arts the illuminant D50 and 2 degrees (from memory).
WHITE_OF_LAB = "D50/2"
SEPARATORS = (",", ";", "\t")
CSV_HINT = "write a line of column names, such as patch,Lab_l,Lab_a,Lab_b, and one line a patch"


def read_patch_csv(path: Path) -> CgatsTable:
    """Read a CSV file of patches.

    Lines `# key: value` before the column names are keywords (`# white point: D65/2`,
    `# values: nominal`). The patch's name is in the column called so (`patch`, `name`,
    `sample_id`), else in the first column of words that are all different. CIELAB is D50/2 unless
    the file states another white.

    Parameters
    ----------
    path : pathlib.Path
        UTF-8, values parted by commas, semicolons or tabs.

    Raises
    ------
    DataFileError
        When the file cannot be read or is no such table.
    """
    numbered = [
        (number, line.strip())
        for number, line in enumerate(read_patch_text(path).splitlines(), start=1)
        if line.strip()
    ]
    body = [(number, line) for number, line in numbered if not line.startswith("#")]
    if len(body) < 2:
        raise patch_file_error(path.name, "it holds no patches", CSV_HINT)
    separator = max(SEPARATORS, key=body[0][1].count)
    cells = [_cells(path, number, line, separator) for number, line in body]
    fields = _fields(path, cells)
    lines = [number for number, _ in body[1:]]
    rows = tuple(_row(path, fields, line, row) for line, row in zip(lines, cells[1:], strict=True))
    return CgatsTable(
        path=path,
        keywords={"WHITE_POINT": WHITE_OF_LAB}
        | dict(_keyword(line) for _, line in numbered if line.startswith("#")),
        fields=fields,
        rows=rows,
    )


def _cells(path: Path, number: int, line: str, separator: str) -> list[str]:
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=separator))]
    except csv.Error as error:
        raise patch_file_error(path.name, f"it is not CSV: {error}", CSV_HINT, number) from error


def _keyword(line: str) -> tuple[str, str]:
    key, _, value = line.lstrip("# ").partition(":")
    return key.strip().upper().replace(" ", "_"), value.strip()


def _fields(path: Path, cells: Sequence[Sequence[str]]) -> tuple[str, ...]:
    """Name the columns as CGATS does, the one with the patches' names SAMPLE_ID."""
    named = [COLUMNS.get(name.upper(), name.upper()) for name in cells[0]]
    repeated = sorted({name for name in named if named.count(name) > 1})
    if repeated:
        raise patch_file_error(
            path.name, f"the columns {', '.join(repeated)} stand there twice", CSV_HINT
        )
    place = next((named.index(name) for name in NAME_COLUMNS if name in named), None)
    place = _column_of_words(cells[1:], len(named)) if place is None else place
    if place is None:
        raise patch_file_error(path.name, "no column names the patches", CSV_HINT)
    named[place] = NAME_FIELD
    return tuple(named)


def _column_of_words(rows: Sequence[Sequence[str]], columns: int) -> int | None:
    for place in range(columns):
        words = [row[place] for row in rows if len(row) > place]
        plain = not any(re.fullmatch(r"[-+]?[\d.]+", word) for word in words)
        if plain and len(set(words)) == len(words):
            return place
    return None


def _row(path: Path, fields: tuple[str, ...], number: int, cells: list[str]) -> CgatsRow:
    if len(cells) != len(fields):
        problem = f"{len(cells)} values stand where {len(fields)} columns are named"
        raise patch_file_error(path.name, problem, CSV_HINT, number)
    return CgatsRow(line=number, values=tuple(cells))
