"""Reads the geometry of the sheet: where each part of it is, in mm."""

from __future__ import annotations

import tomllib
from functools import cache
from math import isfinite
from typing import TYPE_CHECKING, Any

from greasecheck.errors import DataFileError
from greasecheck.model import (
    Box,
    ContrastLadder,
    LadderCell,
    Marker,
    Note,
    SheetGeometry,
    Sight,
)
from greasecheck.reference.folder import data_folder

if TYPE_CHECKING:
    from pathlib import Path

GEOMETRY_PATTERN = "sheet_v*.toml"


def read_geometry(path: Path) -> SheetGeometry:
    """Read a sheet geometry file.

    Parameters
    ----------
    path : pathlib.Path
        A TOML file laid out like calibration/sheet_v1.toml; lengths in mm.

    Raises
    ------
    DataFileError
        When the file cannot be read or a key is missing or of the wrong kind.

    Examples
    --------
    >>> geometry = read_geometry(data_folder("calibration") / "sheet_v1.toml")
    >>> geometry.version, geometry.width_mm
    (1, 260.0)
    """
    try:
        text = path.read_text(encoding="utf-8")
        return _geometry(tomllib.loads(text, parse_float=_finite))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise DataFileError(
            f"cannot read the sheet geometry {path}: {error}", hint="check the file's name and text"
        ) from error
    except (ArithmeticError, KeyError, RecursionError, TypeError, ValueError) as error:
        raise DataFileError(
            f"the sheet geometry {path} lacks or garbles {error}",
            hint="compare it with sheet_v1.toml, which comes with greasecheck",
        ) from error


@cache
def known_sheets() -> tuple[SheetGeometry, ...]:
    """Return the geometry of each sheet version that comes with greasecheck, oldest first."""
    paths = data_folder("calibration").glob(GEOMETRY_PATTERN)
    return tuple(sorted((read_geometry(path) for path in paths), key=lambda sheet: sheet.version))


def _geometry(table: dict[str, Any]) -> SheetGeometry:
    tag, jar, ruler = table["tag"], table["jar"], table["ruler"]
    return SheetGeometry(
        version=int(table["version"]),
        width_mm=float(table["width"]),
        height_mm=float(table["height"]),
        dictionary=str(table["dictionary"]),
        patch_values=str(table["patch_values"]),
        markers=tuple(_marker(row) for row in table["markers"]),
        tag_slot=_box(tag["slot"]),
        tag_marker=_box(tag["marker"]),
        tag_ids=range(int(tag["first_id"]), int(tag["last_id"]) + 1),
        jar_zone=_box(jar["zone"]),
        fill_line_y_mm=float(jar["fill_line_y"]),
        sight=_sight(table["sight"]),
        ruler_start_mm=(float(ruler["start"][0]), float(ruler["start"][1])),
        ruler_length_mm=float(ruler["length"]),
        rest_zone=_box(table["rest"]["zone"]),
        rest_arrow=_box(table["rest"]["arrow"]),
        paper_windows=tuple(_box(row) for row in table["paper"]["windows"]),
        patches={name: _box(row) for name, row in table["patches"].items()},
        notes=tuple(_note(row) for row in table["notes"]),
        jar_outline=_box(jar["outline"]) if "outline" in jar else None,
        ladder=_ladder(table["ladder"]) if "ladder" in table else None,
    )


def _finite(text: str) -> float:
    number = float(text)
    if not isfinite(number):
        raise ValueError(text)
    return number


def _box(row: list[float]) -> Box:
    x, y, width, height = (float(value) for value in row)
    return Box(x_mm=x, y_mm=y, width_mm=width, height_mm=height)


def _marker(row: dict[str, Any]) -> Marker:
    return Marker(id=int(row["id"]), box=_box(row["box"]), corner=bool(row["corner"]))


def _note(row: dict[str, Any]) -> Note:
    return Note(
        x_mm=float(row["at"][0]),
        y_mm=float(row["at"][1]),
        size_mm=float(row["size"]),
        words=str(row["words"]),
        bold=bool(row["bold"]),
    )


def _sight(row: dict[str, Any]) -> Sight:
    return Sight(
        fine_bar_mm=float(row["fine_bar"]),
        coarse_bar_mm=float(row["coarse_bar"]),
        wet_fine=_box(row["wet_fine"]),
        wet_coarse=_box(row["wet_coarse"]),
        dry_fine=_box(row["dry_fine"]),
        dry_coarse=_box(row["dry_coarse"]),
        glass=_box(row["glass"]) if "glass" in row else None,
    )


def _ladder(row: dict[str, Any]) -> ContrastLadder:
    return ContrastLadder(
        fine_bar_mm=float(row["fine_bar"]),
        coarse_bar_mm=float(row["coarse_bar"]),
        cells=tuple(_ladder_cell(cell) for cell in row["cells"]),
    )


def _ladder_cell(row: dict[str, Any]) -> LadderCell:
    return LadderCell(
        name=str(row["name"]),
        box=_box(row["box"]),
        fine=_box(row["fine"]),
        coarse=_box(row["coarse"]),
    )
