"""The colours of a chart's patches: printed intent, or as the user's instrument measured them."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import DataFileError
from greasecheck.reference.geometry import known_sheets
from greasecheck.reference.patches.cgats import patch_file_error, read_cgats
from greasecheck.reference.patches.csv_file import read_patch_csv
from greasecheck.reference.patches.table import table_values

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from greasecheck.model import PatchValues, SheetGeometry

# Colours are compared by the logarithm of their light; the blackest print has a Y of 0.3 and more.
LEAST_Y = 0.01
PAPER = "paper"  # name of the bare paper among the patch values
TWIN = re.compile(r"(.*\d)[a-z]")  # N1a and N1b are one colour printed twice
FEWEST_PATCHES = 12  # with a known colour: a colour matrix of nine numbers, and some to judge it by


def read_patch_values(path: Path, geometry: SheetGeometry | None = None) -> PatchValues:
    """Read the colours of a sheet's patches: nominal, or as the user's instrument measured them.

    Spectral reflectances are used before XYZ, and XYZ before CIELAB. XYZ and CIELAB must state
    their white (`WHITE_POINT "D50/2"` or `"D65/2"`); only CIELAB as CSV is D50/2 unless
    it states another; D50 is adapted to D65 by Bradford. A file is taken as measured unless it
    says `VALUES "nominal"`. A name without its last letter (N1) stands for both twins (N1a, N1b);
    rows of other names are left out.

    Parameters
    ----------
    path : pathlib.Path
        CGATS.17 / ISO 28178 text, or CSV when it is named so; one row a patch.
    geometry : SheetGeometry, optional
        The sheet whose patches it must hold; by default the one that the file names, otherwise the
        newest.

    Returns
    -------
    PatchValues
        In the order of the sheet's nominal file, or of its geometry where it has none.

    Raises
    ------
    DataFileError
        When the file cannot be read, is for another sheet, misses patches, or holds an
        impossible value.

    Examples
    --------
    >>> values = read_patch_values(known_sheets()[0].patch_values, known_sheets()[0])
    >>> values.measured, values.of("paper").round(2).tolist()
    (False, [95.05, 100.0, 108.88])
    """
    values = load_patch_values(path)
    return of_sheet(values, geometry or named_sheet(values, known_sheets()))


def named_sheet(values: PatchValues, sheets: Sequence[SheetGeometry]) -> SheetGeometry:
    """Return the sheet whose version patch values state, or the newest of the sheets."""
    stated = [sheet for sheet in sheets if sheet.version == values.sheet_version]
    return (stated or list(sheets))[-1]


def read_patch_files(
    paths: Sequence[Path], sheets: Sequence[SheetGeometry]
) -> tuple[PatchValues, ...]:
    """Read files of which each must belong to one of the sheets; errors as `read_patch_values`."""
    loaded = tuple(load_patch_values(path) for path in paths)
    for values in loaded:
        if not any(belongs(values, sheet) for sheet in sheets):
            of_sheet(values, named_sheet(values, sheets))
    return loaded


def values_for(geometry: SheetGeometry, given: Sequence[PatchValues] = ()) -> PatchValues:
    """Return the first of the given values that belong to a sheet, else its nominal ones.

    Raises
    ------
    DataFileError
        When none do, and the chart has no nominal values.
    """
    for values in given:
        if belongs(values, geometry):
            return of_sheet(values, geometry)
    return nominal_values(geometry)


def nominal_values(geometry: SheetGeometry) -> PatchValues:
    """Return the printed intent of a sheet, from the file that its geometry names.

    Raises
    ------
    DataFileError
        When it names none.
    """
    if geometry.patch_values is None:
        raise DataFileError(
            "the colours of this chart's patches are not known",
            hint="give their measured values, or patch_values in its geometry file",
        )
    return _nominal(geometry.patch_values)


def belongs(values: PatchValues, geometry: SheetGeometry) -> bool:
    """Whether values are of a sheet: of the version they state, with all its patches."""
    of_version = values.sheet_version in (None, geometry.version)
    return of_version and not _missing(values, geometry)


def of_sheet(values: PatchValues, geometry: SheetGeometry) -> PatchValues:
    """Keep the rows that a sheet needs, in the order of its nominal file.

    Raises
    ------
    DataFileError
        When they are for another sheet, miss patches, or have a perfectly black one.
    """
    if values.sheet_version not in (None, geometry.version):
        raise patch_file_error(
            values.file,
            f"it belongs to sheet version {values.sheet_version}, not {geometry.version}",
            "give the values measured on the sheet that you photograph",
        )
    missing = _missing(values, geometry)
    if missing:
        unknown = sorted(set(values.names) - set(_wanted(geometry, values)))
        raise patch_file_error(
            values.file,
            f"it lacks the patches {', '.join(missing)}",
            "measure them too" + (f"; not known: {', '.join(unknown)}" if unknown else ""),
        )
    return _chosen(values, _wanted(geometry, values))


def load_patch_values(path: Path) -> PatchValues:
    """Read all rows of a file of patch values; `of_sheet` takes those of a sheet."""
    is_csv = path.suffix.lower() == ".csv"
    return table_values(read_patch_csv(path) if is_csv else read_cgats(path))


@cache
def _nominal(path: Path) -> PatchValues:
    return load_patch_values(path)


def _wanted(geometry: SheetGeometry, values: PatchValues) -> tuple[str, ...]:
    """Names of the patches whose colours a sheet needs.

    A chart without nominal values takes what there is: not every patch need be measured, and its
    bare paper need not.
    """
    if geometry.patch_values is not None:
        greys = _greys(geometry)
        return tuple(name for name in nominal_values(geometry).names if name not in greys)
    known = [name for name in (*geometry.patches, PAPER) if _row_of(values.names, name) is not None]
    enough = len(known) >= FEWEST_PATCHES
    return tuple(known) if enough else tuple(geometry.patches)


def _missing(values: PatchValues, geometry: SheetGeometry) -> list[str]:
    return [name for name in _wanted(geometry, values) if _row_of(values.names, name) is None]


def _chosen(values: PatchValues, wanted: tuple[str, ...]) -> PatchValues:
    rows = [_row_of(values.names, name) for name in wanted]
    chosen = np.array(rows, dtype=np.intp)
    found = replace(
        values,
        names=wanted,
        xyz=values.xyz[chosen],
        rgb=None if values.rgb is None else values.rgb[chosen],
    )
    _refuse_black(found)
    return found


def _greys(geometry: SheetGeometry) -> frozenset[str]:
    """Return the names of the ladder's greys, whose bars are too narrow for an instrument."""
    cells = geometry.ladder.cells if geometry.ladder else ()
    return frozenset(f"{cell.name}-{part}" for cell in cells for part in ("light", "dark"))


def _refuse_black(values: PatchValues) -> None:
    """Raise DataFileError for patches that send no light: a gap in the table, and no print."""
    light = zip(values.names, values.xyz[:, 1].tolist(), strict=True)
    black = [name for name, y in light if y < LEAST_Y]
    if black:
        raise patch_file_error(
            values.file,
            f"the patches {', '.join(black)} are perfectly black",
            "measure them again; even black ink has a Y of 0.5 and more",
        )


def _row_of(names: tuple[str, ...], name: str) -> int | None:
    """Find the row of a patch, or that of the name which stands for both twins."""
    twin = TWIN.fullmatch(name)
    candidates = (name, twin[1]) if twin else (name,)
    return next((names.index(candidate) for candidate in candidates if candidate in names), None)
