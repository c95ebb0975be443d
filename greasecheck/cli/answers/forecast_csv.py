"""Reads tubs' histories from CSV files with the columns of the logbook's export."""

from __future__ import annotations

import csv
from math import inf, isfinite
from typing import TYPE_CHECKING

from greasecheck.cli.shared.clock import parse_time
from greasecheck.errors import DataFileError, GreasecheckError
from greasecheck.model import Bound, Recipe, Verdict
from greasecheck.predict.records import (
    FinishedTub,
    HazeReading,
    SoakingSkull,
    TubHistory,
    WaterChange,
)
from greasecheck.reference.folder import plain_file

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path
    from typing import TypeVar

    Record = TypeVar("Record")

MOST_FAULTS_SHOWN = 5
ONLY_TUB = 1


def read_histories(readings: Path, baths: Path, skulls: Path) -> dict[int, TubHistory]:
    """Return each tub's history, by tub number; without a `tub` column all is of tub 1.

    Parameters
    ----------
    readings : pathlib.Path
        Columns taken_at, attenuation_per_m, attenuation_std_per_m; optional tub, bound, verdict,
        wrong.
    baths : pathlib.Path
        Columns filled_at; optional tub, recipe, temperature_c, carry_over_share.
    skulls : pathlib.Path
        Columns species, since; optional tub, name.

    Raises
    ------
    DataFileError
        When a file cannot be read or a line is faulty; names each faulty line.
    """
    hazes = _by_tub(_rows(readings, _reading))
    changes = _by_tub(_rows(baths, _change))
    entries = _by_tub(_rows(skulls, _skull))
    if not entries:
        raise DataFileError(f"{skulls.name} names no skull", hint="give at least species and since")
    return {
        tub: TubHistory(
            skulls=entries[tub], changes=changes.get(tub, ()), readings=hazes.get(tub, ())
        )
        for tub in sorted(entries)
    }


def read_finished(path: Path) -> tuple[FinishedTub, ...]:
    """Return the user's finished tubs from a CSV file with columns species, days."""
    return tuple(record for _, record in _rows(path, _finished))


def _by_tub(rows: list[tuple[int, Record | None]]) -> dict[int, tuple[Record, ...]]:
    tubs = dict.fromkeys(tub for tub, _ in rows)
    return {
        tub: tuple(record for owner, record in rows if owner == tub and record is not None)
        for tub in tubs
    }


def _rows(path: Path, convert: Callable[[dict[str, str]], Record]) -> list[tuple[int, Record]]:
    """Return tub and record of each line; '#' lines and blank ones are skipped."""
    try:
        text = plain_file(path).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise DataFileError(f"cannot read {path}: {error}", hint="check the file's name") from error
    lines = [(n, line) for n, line in enumerate(text.splitlines(), 1) if line.strip(", \t")]
    kept = [(n, line) for n, line in lines if not line.startswith("#")]
    found, faults = [], []
    for (number, _), row in zip(kept[1:], _table(path, kept), strict=False):
        cells = {str(name).strip(): (value or "").strip() for name, value in row.items() if name}
        try:
            found.append((int(cells.get("tub") or ONLY_TUB), convert(cells)))
        except KeyError as error:
            faults.append(f"line {number}: the column {error} is missing")
        except (ValueError, GreasecheckError) as error:
            faults.append(f"line {number}: {error}")
    if faults:
        raise DataFileError(
            f"{path.name}: " + "; ".join(faults[:MOST_FAULTS_SHOWN]),
            hint=f"{len(faults)} faulty line(s); nothing was forecast; columns as in the export",
        )
    return found


def _table(path: Path, lines: list[tuple[int, str]]) -> list[dict[str, str]]:
    try:
        return list(csv.DictReader(line for _, line in lines))
    except csv.Error as error:
        hint = "export it again, or correct its quotes"
        raise DataFileError(f"{path.name} is not CSV: {error}", hint=hint) from error


def _reading(row: dict[str, str]) -> HazeReading | None:
    if row.get("wrong", "") not in {"", "0"} or not row["attenuation_per_m"]:
        return None
    return HazeReading(
        at=parse_time(row["taken_at"]),
        attenuation_per_m=_number(row["attenuation_per_m"]),
        std_per_m=_number(row.get("attenuation_std_per_m") or "0", least=0.0),
        bound=Bound(row["bound"]) if row.get("bound") else None,
        verdict=Verdict(row.get("verdict") or Verdict.GOOD),
    )


def _change(row: dict[str, str]) -> WaterChange:
    return WaterChange(
        at=parse_time(row["filled_at"]),
        recipe=Recipe(row.get("recipe") or Recipe.SOAP),
        temperature_c=_optional(row, "temperature_c"),
        carry_over=_optional(row, "carry_over_share"),
    )


def _skull(row: dict[str, str]) -> SoakingSkull:
    return SoakingSkull(
        name=row.get("name") or row["species"],
        species=row["species"],
        since=parse_time(row["since"]),
    )


def _finished(row: dict[str, str]) -> FinishedTub:
    return FinishedTub(species=row["species"], days=_number(row["days"], least=0.0))


def _optional(row: dict[str, str], name: str) -> float | None:
    return _number(row[name]) if row.get(name) else None


def _number(text: str, *, least: float = -inf) -> float:
    number = float(text)
    if not isfinite(number) or number < least:
        raise ValueError(f"{text} is no possible number here")
    return number
