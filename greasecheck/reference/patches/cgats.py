"""Reads CGATS.17 / ISO 28178 text: keywords, field names and rows, each with its line number."""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.errors import DataFileError
from greasecheck.reference.folder import plain_file

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

LARGEST_BYTES = 4_000_000
BYTE_ORDER_MARKS = {
    codecs.BOM_UTF8: "utf-8-sig",
    codecs.BOM_UTF16_LE: "utf-16",
    codecs.BOM_UTF16_BE: "utf-16",
}
TOKEN = re.compile(r'"([^"]*)"|([^\s"]+)')
COMMENT = re.compile(r'#(?=(?:[^"]*"[^"]*")*[^"]*$).*')  # a # outside quotation marks
MARKS = ("BEGIN_DATA_FORMAT", "END_DATA_FORMAT", "BEGIN_DATA", "END_DATA")
LAYOUT_HINT = "compare the file with sheet_v1_nominal.cgats, which comes with greasecheck"


@dataclass(frozen=True, slots=True, kw_only=True)
class CgatsRow:
    """One set of data: its line in the file and its values as written."""

    line: int
    values: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CgatsTable:
    """The text of one CGATS table.

    Attributes
    ----------
    path : pathlib.Path
        Where it was read from.
    keywords : dict
        Header values by keyword, upper case.
    fields : tuple of str
        Field names, upper case.
    rows : tuple of CgatsRow
        The data, as many values each as there are fields.
    """

    path: Path
    keywords: dict[str, str]
    fields: tuple[str, ...]
    rows: tuple[CgatsRow, ...]

    def error(self, problem: str, hint: str, line: int | None = None) -> DataFileError:
        """Return the error that names the file and, if given, the line."""
        return patch_file_error(self.path.name, problem, hint, line)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    number: int
    tokens: tuple[str, ...]


def read_cgats(path: Path) -> CgatsTable:
    """Read a file of one table.

    Parameters
    ----------
    path : pathlib.Path
        CGATS.17 or ISO 28178 text: ASCII, UTF-8, or UTF-16 with a byte order mark.

    Raises
    ------
    DataFileError
        When the file cannot be read or is not laid out as one such table.

    References
    ----------
    ISO 28178:2009, Graphic technology - Exchange format for colour and process control data
    (from memory).
    """
    lines = tuple(_lines(read_patch_text(path)))
    sections = {
        mark: [n for n, line in enumerate(lines) if line.tokens[0] == mark] for mark in MARKS
    }
    for mark, places in sections.items():
        if len(places) != 1:
            raise _error(path, f"it has {len(places)} lines '{mark}' instead of one", LAYOUT_HINT)
    first, format_end, start, end = (sections[mark][0] for mark in MARKS)
    if not first < format_end < start < end:
        raise _error(path, "its sections are out of order", LAYOUT_HINT)
    keywords = dict(_keyword(line) for line in (*lines[:first], *lines[format_end + 1 : start]))
    fields = tuple(t.upper() for line in lines[first + 1 : format_end] for t in line.tokens)
    rows = tuple(_row(path, line, fields) for line in lines[start + 1 : end])
    if not rows:
        raise _error(path, "it holds no patches", LAYOUT_HINT)
    _check_counts(path, keywords, fields, rows)
    return CgatsTable(path=path, keywords=keywords, fields=fields, rows=rows)


def read_patch_text(path: Path) -> str:
    """Return the text of a file of patch values; raises DataFileError as `read_cgats`."""
    try:
        if plain_file(path).stat().st_size > LARGEST_BYTES:
            raise _error(path, "it is far too large for a table of patches", LAYOUT_HINT)
        content = path.read_bytes()
    except OSError as error:
        reason = error.strerror or str(error)
        raise _error(
            path, f"it cannot be read: {reason}", "check the name and the folder"
        ) from error
    if not content.strip():
        raise _error(path, "it is empty", "export it again from the measuring program")
    return _decode(path, content)


def _decode(path: Path, content: bytes) -> str:
    encodings = (name for mark, name in BYTE_ORDER_MARKS.items() if content.startswith(mark))
    try:
        text = content.decode(next(encodings, "utf-8"))
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise _error(path, "it is not UTF-8 text", "save it as UTF-8 text", line) from error
    if "\0" in text:
        raise _error(path, "it is not plain text", "save it as UTF-8 text")
    return text


def _lines(text: str) -> Iterator[_Line]:
    """Lines that say something, without comments."""
    for number, line in enumerate(text.splitlines(), start=1):
        found = TOKEN.findall(COMMENT.sub("", line))
        if found:
            yield _Line(number=number, tokens=tuple(quoted or bare for quoted, bare in found))


def _keyword(line: _Line) -> tuple[str, str]:
    return line.tokens[0].upper(), " ".join(line.tokens[1:])


def _row(path: Path, line: _Line, fields: tuple[str, ...]) -> CgatsRow:
    if len(line.tokens) != len(fields):
        commas = any(re.fullmatch(r"-?\d+,\d+", token) for token in line.tokens)
        hint = "write numbers with a point, not a comma" if commas else LAYOUT_HINT
        problem = f"{len(line.tokens)} values stand where {len(fields)} fields are declared"
        raise _error(path, problem, hint, line.number)
    return CgatsRow(line=line.number, values=line.tokens)


def _check_counts(
    path: Path, keywords: dict[str, str], fields: tuple[str, ...], rows: tuple[CgatsRow, ...]
) -> None:
    repeated = sorted({name for name in fields if fields.count(name) > 1})
    if repeated:
        raise _error(path, f"the fields {', '.join(repeated)} are declared twice", LAYOUT_HINT)
    for keyword, count in (("NUMBER_OF_FIELDS", len(fields)), ("NUMBER_OF_SETS", len(rows))):
        declared = keywords.get(keyword, str(count))
        if declared != str(count):
            raise _error(
                path,
                f"it declares {keyword} {declared} but holds {count}",
                "the file may be cut short; export it again, or correct the number",
            )


def _error(path: Path, problem: str, hint: str, line: int | None = None) -> DataFileError:
    return patch_file_error(path.name, problem, hint, line)


def patch_file_error(file: str, problem: str, hint: str, line: int | None = None) -> DataFileError:
    """Return the error that names a file of patch values and, if given, the line."""
    place = f", line {line}" if line else ""
    return DataFileError(f"patch values {file}{place}: {problem}", hint=hint)
