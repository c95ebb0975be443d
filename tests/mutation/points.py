"""Places in source code and tables where one small change should make a test fail."""

from __future__ import annotations

import ast
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

FACTOR = 1.5  # what a number is multiplied by; 0 becomes 1
COMPARISONS: dict[type[ast.cmpop], str] = {
    ast.Lt: ">=",
    ast.GtE: "<",
    ast.Gt: "<=",
    ast.LtE: ">",
    ast.Eq: "!=",
    ast.NotEq: "==",
}
ARITHMETIC: dict[type[ast.operator], str] = {
    ast.Add: "-",
    ast.Sub: "+",
    ast.Mult: "/",
    ast.Div: "*",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Mutant:
    """One change of a file.

    Attributes
    ----------
    path : pathlib.Path
        The file, relative to the repository.
    line : int
        Its line, from 1.
    before, after : str
        The changed text; `start` says where it begins in the whole text.
    start : int
        Offset in characters.
    """

    path: Path
    line: int
    before: str
    after: str
    start: int

    def applied(self, text: str) -> str:
        """Return the file's text with the change."""
        end = self.start + len(self.before)
        if text[self.start : end] != self.before:
            raise ValueError(f"{self.path} has changed since its mutants were found")
        return text[: self.start] + self.after + text[end:]

    def __str__(self) -> str:
        return f"{self.path}:{self.line}: {self.before} -> {self.after}"


def code_mutants(path: Path, text: str) -> Iterator[Mutant]:
    """Yield the mutants of a module: its constants, comparisons, arithmetic and signs."""
    lines = _line_starts(text)
    for node in _mutable(ast.parse(text)):
        for start, end, after in _changes(node, text, lines):
            yield Mutant(
                path=path,
                line=text.count("\n", 0, start) + 1,
                before=text[start:end],
                after=after,
                start=start,
            )


def table_mutants(path: Path, text: str) -> Iterator[Mutant]:
    """Yield the mutants of a table of calibration/: each number multiplied."""
    offset, names_seen = 0, False
    for number, line in enumerate(text.splitlines(keepends=True), start=1):
        if not line.startswith("#") and names_seen:
            yield from _cells(path, number, line, offset)
        names_seen = names_seen or not line.startswith("#")
        offset += len(line)


def _cells(path: Path, number: int, line: str, offset: int) -> Iterator[Mutant]:
    column = 0
    for cell in line.rstrip("\n").split(","):
        changed = _multiplied(cell)
        if changed is not None:
            start = offset + column
            yield Mutant(path=path, line=number, before=cell, after=changed, start=start)
        column += len(cell) + 1


def _multiplied(number: str) -> str | None:
    try:
        value = float(number)
    except ValueError:
        return None
    return repr(value * FACTOR if value else 1.0)


def _mutable(tree: ast.Module) -> Iterator[ast.AST]:
    """Yield the nodes outside annotations and type-checking blocks."""
    for node in ast.walk(tree):
        if (isinstance(node, ast.Assign) and node in tree.body) or isinstance(
            node, ast.Compare | ast.BinOp | ast.UnaryOp
        ):
            yield node


def _changes(node: ast.AST, text: str, lines: list[int]) -> Iterator[tuple[int, int, str]]:
    if isinstance(node, ast.Assign):
        yield from _constant(node.value, text, lines)
    elif isinstance(node, ast.Compare) and len(node.ops) == 1:
        after = COMPARISONS.get(type(node.ops[0]))
        yield from _between(node.left, node.comparators[0], after, text, lines)
    elif isinstance(node, ast.BinOp):
        yield from _between(node.left, node.right, ARITHMETIC.get(type(node.op)), text, lines)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        start = _offset(node, lines, text)
        yield start, start + 1, "+"


def _constant(value: ast.expr, text: str, lines: list[int]) -> Iterator[tuple[int, int, str]]:
    """Yield the multiplied numbers of a module's constant, a number or a tuple of numbers."""
    parts = value.elts if isinstance(value, ast.Tuple) else [value]
    for part in parts:
        number = part.value if isinstance(part, ast.Constant) else None
        if isinstance(number, int | float) and not isinstance(number, bool):
            changed = number * FACTOR if number else 1.0
            whole = isinstance(number, int) and changed == int(changed)
            start, end = _offset(part, lines, text), _end(part, lines, text)
            yield start, end, repr(int(changed) if whole else changed)


def _between(
    left: ast.expr, right: ast.expr, after: str | None, text: str, lines: list[int]
) -> Iterator[tuple[int, int, str]]:
    """Yield the change of the operator that stands between two operands."""
    if after is None or (isinstance(left, ast.Constant) and isinstance(left.value, str)):
        return
    start, end = _end(left, lines, text), _offset(right, lines, text)
    between = text[start:end]
    operator = between.strip("() \n")
    if operator and "#" not in between and "\n" not in operator:
        at = start + between.index(operator)
        yield at, at + len(operator), after


def _line_starts(text: str) -> list[int]:
    starts = [0]
    for line in text.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    return starts


def _offset(node: ast.expr, lines: list[int], text: str) -> int:
    return _characters(lines[node.lineno - 1], node.col_offset, text)


def _end(node: ast.expr, lines: list[int], text: str) -> int:
    if node.end_lineno is None or node.end_col_offset is None:
        raise ValueError("a parsed expression has an end")
    return _characters(lines[node.end_lineno - 1], node.end_col_offset, text)


def _characters(start: int, column_bytes: int, text: str) -> int:
    """Return an offset in characters from a column in bytes of UTF-8."""
    line = text[start:].split("\n", 1)[0].encode()
    return start + len(line[:column_bytes].decode())
