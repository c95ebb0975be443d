"""Counts what is wrong with the lines of files, and keeps as much of it as people can use."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.errors import DataFileError
from greasecheck.words.times import counted

if TYPE_CHECKING:
    from pathlib import Path

MOST_FAULTS_SHOWN = 1000


class Faults:
    """What is wrong with some files, in the order in which it was found."""

    def __init__(self) -> None:
        self._count = 0
        self._shown: list[str] = []

    def add(self, path: Path, line: int, problem: str) -> None:
        """Count what is wrong with a line of a file."""
        self._count += 1
        if len(self._shown) < MOST_FAULTS_SHOWN:
            self._shown.append(f"{path.name} line {line}: {problem}")

    def raise_if_any(self) -> None:
        """Raise DataFileError when anything is wrong."""
        if not self._count:
            return
        more = self._count - len(self._shown)
        lines = [*self._shown, *([f"and {more} more"] if more else [])]
        count = counted(self._count, "fault")
        raise DataFileError(
            "\n  ".join([f"nothing was imported, for {count}:", *lines]),
            hint="correct these lines and import again; see the columns of the tables",
        )
