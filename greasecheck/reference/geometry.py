"""Reads the geometry of the sheet: where each part of it is, in mm."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from math import isfinite
from typing import TYPE_CHECKING, Any

from greasecheck.errors import DataFileError
from greasecheck.model import (
    Box,
    ContrastLadder,
    JarPlace,
    LadderCell,
    Marker,
    Note,
    RestPlace,
    Ruler,
    SheetGeometry,
    Sight,
    TagPlace,
)
from greasecheck.reference.folder import data_folder, plain_file

if TYPE_CHECKING:
    from pathlib import Path

SHEETS, CARDS = "sheet_v*.toml", "card_v*.toml"
OWN_CHART = 0  # version of a chart that is none of greasecheck's own


def read_geometry(path: Path) -> SheetGeometry:
    """Read a sheet geometry file.

    Parameters
    ----------
    path : pathlib.Path
        A TOML file laid out like calibration/sheet_v1.toml; lengths in mm. `version`,
        `patch_values`, `notes` and the parts `tag`, `jar`, `sight`, `ruler` and `rest` may be
        missing; `patch_values` names a file beside it.

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
        text = plain_file(path).read_text(encoding="utf-8")
        return _geometry(tomllib.loads(text, parse_float=_finite), path.parent)
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
    return _known(SHEETS)


@cache
def known_cards() -> tuple[SheetGeometry, ...]:
    """Return the geometry of each bone card that comes with greasecheck, oldest first."""
    return _known(CARDS)


def _known(pattern: str) -> tuple[SheetGeometry, ...]:
    paths = data_folder("calibration").glob(pattern)
    return tuple(sorted((read_geometry(path) for path in paths), key=lambda sheet: sheet.version))


def _geometry(table: dict[str, Any], folder: Path) -> SheetGeometry:
    """Build the geometry; every part but markers, paper and patches may be missing."""
    values = table.get("patch_values")
    return SheetGeometry(
        version=int(table.get("version", OWN_CHART)),
        width_mm=float(table["width"]),
        height_mm=float(table["height"]),
        dictionary=_dictionary(table["dictionary"]),
        patch_values=None if values is None else folder / str(values),
        markers=tuple(_marker(row) for row in table["markers"]),
        paper_windows=tuple(_box(row) for row in table["paper"]["windows"]),
        patches={name: _box(row) for name, row in table["patches"].items()},
        notes=tuple(_note(row) for row in table.get("notes", ())),
        tag=_tag(table["tag"]) if "tag" in table else None,
        jar=_jar(table["jar"]) if "jar" in table else None,
        bars=_sight(table["sight"]) if "sight" in table else None,
        ladder=_ladder(table["ladder"]) if "ladder" in table else None,
        ruler=_ruler(table["ruler"]) if "ruler" in table else None,
        rest=_rest(table["rest"]) if "rest" in table else None,
    )


def _dictionary(name: object) -> str:
    if not re.fullmatch(r"DICT_[4567]X[4567]_(50|100|250|1000)|DICT_ARUCO_ORIGINAL", str(name)):
        raise ValueError(f"the marker dictionary '{name}'")
    return str(name)


def _tag(row: dict[str, Any]) -> TagPlace:
    return TagPlace(slot=_box(row["slot"]), marker=_box(row["marker"]))


def _jar(row: dict[str, Any]) -> JarPlace:
    return JarPlace(
        zone=_box(row["zone"]),
        fill_line_y_mm=float(row["fill_line_y"]),
        outline=_box(row["outline"]) if "outline" in row else None,
        beside=tuple(_box(box) for box in row.get("beside", ())),
    )


def _ruler(row: dict[str, Any]) -> Ruler:
    x, y = row["start"]
    return Ruler(start_mm=(float(x), float(y)), length_mm=float(row["length"]))


def _rest(row: dict[str, Any]) -> RestPlace:
    return RestPlace(zone=_box(row["zone"]), arrow=_box(row["arrow"]))


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
