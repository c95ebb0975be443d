"""Reads the geometry of the dip ladder: where each part of the plate is, in mm."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from greasecheck.errors import DataFileError
from greasecheck.model import Box
from greasecheck.reference.folder import data_folder

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

DESIGN = "ladder_v1.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class Grey:
    """A grey of the plate: what it reflects (0 to 1), what the printer is sent, where it is."""

    reflectance: float
    rgb: int
    boxes: tuple[Box, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stripes:
    """Fields of upright stripes, white first: their boxes, and the width of a stripe [mm]."""

    fine: Box
    fine_bar_mm: float
    coarse: Box
    coarse_bar_mm: float
    dry_fine: Box
    dry_coarse: Box


@dataclass(frozen=True, slots=True, kw_only=True)
class Rungs:
    """Columns of level bars, white first: an edge every `step_mm` of depth, numbered beside."""

    columns: tuple[Box, ...]
    step_mm: float
    numbers_x_mm: float
    numbers_every_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DipLadder:
    """Where everything is on the plate [mm]; origin upper left, y down.

    Attributes
    ----------
    version : int
        Number of the design.
    width_mm, height_mm : float
        Size of the plate, wings and body together.
    dictionary : str
        Dictionary of its markers.
    markers : dict of int to Box
        Its own markers.
    tag_marker : Box
        The marker that identifies its tub.
    tag_number_mm : tuple of float
        Left end of the baseline of the tub's number for people.
    waterline_mm : float
        Where the water should stand (y).
    waterline_range_mm : tuple of float
        Highest and lowest place (y) at which it is read.
    body, black : Box
        What goes into the water, and the black part above it.
    wings : tuple of Box
        What stays dry, left and right of the black part.
    stripes : Stripes
        The stripes.
    rungs : Rungs
        The depth marks.
    greys : dict of str to Grey
        White, greys and black.
    """

    version: int
    width_mm: float
    height_mm: float
    dictionary: str
    markers: dict[int, Box]
    tag_marker: Box
    tag_number_mm: tuple[float, float]
    waterline_mm: float
    waterline_range_mm: tuple[float, float]
    body: Box
    black: Box
    wings: tuple[Box, ...]
    stripes: Stripes
    rungs: Rungs
    greys: dict[str, Grey]

    @property
    def lower_end_mm(self) -> float:
        """Return the y of the plate's lower end [mm]."""
        return self.body.y_mm + self.body.height_mm


@cache
def dip_ladder() -> DipLadder:
    """Return the dip ladder that comes with greasecheck.

    Examples
    --------
    >>> dip_ladder().stripes.fine_bar_mm
    3.0
    """
    return read_dip_ladder(data_folder("calibration") / DESIGN)


def read_dip_ladder(path: Path) -> DipLadder:
    """Read a geometry file laid out like calibration/ladder_v1.toml.

    Raises
    ------
    DataFileError
        When the file cannot be read or a key is missing or of the wrong kind.
    """
    try:
        return _ladder(tomllib.loads(path.read_text(encoding="utf-8")))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise DataFileError(
            f"cannot read the ladder geometry {path}: {error}",
            hint="check the file's name and text",
        ) from error
    except (KeyError, TypeError, ValueError) as error:
        raise DataFileError(
            f"the ladder geometry {path} lacks or garbles {error}",
            hint=f"compare it with {DESIGN}, which comes with greasecheck",
        ) from error


def _ladder(table: dict[str, Any]) -> DipLadder:
    highest, lowest = (float(y) for y in table["waterline_range"])
    x, y = (float(value) for value in table["tag_number"])
    return DipLadder(
        version=int(table["version"]),
        width_mm=float(table["width"]),
        height_mm=float(table["height"]),
        dictionary=str(table["dictionary"]),
        markers={int(row["id"]): _box(row["box"]) for row in table["markers"]},
        tag_marker=_box(table["tag_marker"]),
        tag_number_mm=(x, y),
        waterline_mm=float(table["waterline"]),
        waterline_range_mm=(highest, lowest),
        body=_box(table["body"]),
        black=_box(table["black"]),
        wings=_boxes(table["wings"]),
        stripes=_stripes(table["stripes"]),
        rungs=_rungs(table["rungs"]),
        greys={name: _grey(row) for name, row in table["greys"].items()},
    )


def _stripes(row: dict[str, Any]) -> Stripes:
    return Stripes(
        fine=_box(row["fine"]),
        fine_bar_mm=float(row["fine_bar"]),
        coarse=_box(row["coarse"]),
        coarse_bar_mm=float(row["coarse_bar"]),
        dry_fine=_box(row["dry_fine"]),
        dry_coarse=_box(row["dry_coarse"]),
    )


def _rungs(row: dict[str, Any]) -> Rungs:
    return Rungs(
        columns=_boxes(row["columns"]),
        step_mm=float(row["step"]),
        numbers_x_mm=float(row["numbers_x"]),
        numbers_every_mm=float(row["numbers_every"]),
    )


def _grey(row: dict[str, Any]) -> Grey:
    return Grey(
        reflectance=float(row["reflectance"]), rgb=int(row["rgb"]), boxes=_boxes(row["boxes"])
    )


def _boxes(rows: Sequence[list[float]]) -> tuple[Box, ...]:
    return tuple(_box(row) for row in rows)


def _box(row: list[float]) -> Box:
    x, y, width, height = (float(value) for value in row)
    return Box(x_mm=x, y_mm=y, width_mm=width, height_mm=height)
