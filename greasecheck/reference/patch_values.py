"""Turns a CGATS table into patch values: XYZ for D65 and the 2 degree observer."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model import PatchValues
from greasecheck.reference.cgats import CgatsRow, CgatsTable, read_cgats
from greasecheck.reference.cie import (
    WHITES,
    adapt_to_d65,
    lab_to_xyz,
    reflectance_to_xyz,
)
from greasecheck.reference.folder import data_folder
from greasecheck.reference.geometry import known_sheets

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from greasecheck.model import FloatArray, SheetGeometry

NAME_FIELDS = ("SAMPLE_NAME", "SAMPLE_ID", "SAMPLEID", "SAMPLENAME", "PATCH_NAME")
XYZ_FIELDS = ("XYZ_X", "XYZ_Y", "XYZ_Z")
LAB_FIELDS = ("LAB_L", "LAB_A", "LAB_B")
RGB_FIELDS = ("RGB_R", "RGB_G", "RGB_B")
SPECTRAL_FIELD = re.compile(
    r"(?:SPECTRAL|SPECTRUM|SPEC|REFLECTANCE|R)?_?(?:NM|DEC)?_?(\d{3})(?:NM)?"
)
WHITE_KEYWORDS = (
    "WHITE_POINT",
    "ILLUMINANT",
    "ILLUMINATION_NAME",
    "OBSERVER",
    "WEIGHTING_FUNCTION",
)
WIDE_OBSERVER = re.compile(r"(?<!\d)10(?!\d)")
LARGEST_LIGHTNESS = 110.0
LARGEST_Y = 130.0  # fluorescent paper shines beyond the perfect diffuser's 100
LEAST_Y = 0.01  # own choice; colours are compared by the logarithm of their light
PERCENT_FROM, FRACTION_TO = 5.0, 1.5  # largest value of a spectral table in percent, as fraction


def read_patch_values(path: Path, geometry: SheetGeometry | None = None) -> PatchValues:
    """Read the colours of a sheet's patches: nominal, or as the user's instrument measured them.

    Spectral reflectances are used before XYZ, and XYZ before CIELAB. XYZ and CIELAB must state
    their white (`WHITE_POINT "D50/2"` or `"D65/2"`); D50 is adapted to D65 by Bradford. A file
    is taken as measured unless it says `VALUES "nominal"`. A name without its last letter (N1)
    stands for both twins (N1a, N1b); rows of other names are left out.

    Parameters
    ----------
    path : pathlib.Path
        CGATS.17 / ISO 28178 text, one row a patch.
    geometry : SheetGeometry, optional
        The sheet whose patches it must hold; by default the one that the file names, otherwise the
        newest.

    Returns
    -------
    PatchValues
        In the order of the sheet's nominal file.

    Raises
    ------
    DataFileError
        When the file cannot be read, is for another sheet, misses patches, or holds an
        impossible value.

    Examples
    --------
    >>> values = read_patch_values(data_folder("calibration") / "sheet_v1_nominal.cgats")
    >>> values.measured, values.of("paper").round(2).tolist()
    (False, [95.05, 100.0, 108.88])
    """
    table = read_cgats(path)
    return _of_sheet(table, _values(table), geometry or _named_sheet(table))


def sheet_of_values(path: Path) -> SheetGeometry:
    """Return the sheet that a file of patch values names, or the newest."""
    return _named_sheet(read_cgats(path))


def nominal_values(geometry: SheetGeometry) -> PatchValues:
    """Return the printed intent of a sheet, as its file in calibration/ has it."""
    return _nominal(geometry.patch_values)


@cache
def _nominal(file_name: str) -> PatchValues:
    return _values(read_cgats(data_folder("calibration") / file_name))


def _values(table: CgatsTable) -> PatchValues:
    return PatchValues(
        names=_names(table),
        xyz=_read_only(_xyz(table)),
        measured=table.keywords.get("VALUES", "measured").lower() != "nominal",
        source=_source(table),
        rgb=_rgb(table),
    )


def _read_only(array: FloatArray) -> FloatArray:
    array.setflags(write=False)
    return array


def _names(table: CgatsTable) -> tuple[str, ...]:
    column = next((name for name in NAME_FIELDS if name in table.fields), None)
    if column is None:
        raise table.error("no field names the patches", "add the field SAMPLE_ID")
    place = table.fields.index(column)
    seen: dict[str, int] = {}
    for row in table.rows:
        name = row.values[place]
        if name in seen:
            raise table.error(
                f"the patch {name} stands on line {seen[name]} already",
                "keep one row a patch; average repeated measurements first",
                row.line,
            )
        seen[name] = row.line
    return tuple(seen)


def _xyz(table: CgatsTable) -> FloatArray:
    spectral = {name: int(m[1]) for name in table.fields if (m := SPECTRAL_FIELD.fullmatch(name))}
    if spectral:
        return _from_spectra(table, spectral)
    if set(XYZ_FIELDS) <= set(table.fields):
        return _from_xyz(table)
    if set(LAB_FIELDS) <= set(table.fields):
        return _from_lab(table)
    raise table.error(
        "it has neither spectral, XYZ nor LAB fields",
        "export XYZ_X XYZ_Y XYZ_Z, LAB_L LAB_A LAB_B or SPECTRAL_NM380 and so on",
    )


def _from_spectra(table: CgatsTable, spectral: dict[str, int]) -> FloatArray:
    fields = tuple(sorted(spectral, key=spectral.__getitem__))
    wavelengths_nm = np.array([spectral[name] for name in fields], dtype=np.float64)
    steps = np.diff(wavelengths_nm)
    if len(steps) == 0 or wavelengths_nm[0] > 400 or wavelengths_nm[-1] < 700 or steps.max() > 20:
        raise table.error(
            "its spectra do not run from 400 to 700 nm in steps of at most 20 nm",
            "export 380 to 730 nm in steps of 10 nm, or XYZ",
        )
    values = _numbers(table, fields, low=-1.0, high=150.0)
    largest = float(values.max())
    if FRACTION_TO < largest < PERCENT_FROM:
        raise table.error(
            f"its largest reflectance is {largest:g}: neither a fraction nor percent",
            "measure the bare paper too, and export reflectance from 0 to 1",
        )
    scale = 100.0 if largest >= PERCENT_FROM else 1.0
    return reflectance_to_xyz(wavelengths_nm, values / scale)


def _from_xyz(table: CgatsTable) -> FloatArray:
    xyz = _numbers(table, XYZ_FIELDS, low=0.0, high=LARGEST_Y)
    if xyz[:, 1].max() <= FRACTION_TO:
        raise table.error("its XYZ run from 0 to 1", "export them with the white's Y as 100")
    return adapt_to_d65(xyz, WHITES[_white(table)])


def _from_lab(table: CgatsTable) -> FloatArray:
    lightness = _numbers(table, LAB_FIELDS[:1], low=0.0, high=LARGEST_LIGHTNESS)
    opponents = _numbers(table, LAB_FIELDS[1:], low=-130.0, high=130.0)
    white = WHITES[_white(table)]
    return adapt_to_d65(lab_to_xyz(np.hstack([lightness, opponents]), white), white)


def _white(table: CgatsTable) -> str:
    """Return the stated illuminant, D50 or D65; the observer must be that of 2 degrees."""
    stated = " ".join(table.keywords.get(name, "") for name in WHITE_KEYWORDS).upper()
    if WIDE_OBSERVER.search(stated):
        raise table.error("it is for the 10 degree observer", "export for D50 or D65, 2 degrees")
    found = [name for name in WHITES if name in stated]
    if len(found) != 1:
        raise table.error(
            "it does not state one white, D50 or D65, for its colours",
            'add the line WHITE_POINT "D50/2" (most instruments) or WHITE_POINT "D65/2"',
        )
    return found[0]


def _rgb(table: CgatsTable) -> NDArray[np.uint8] | None:
    if not set(RGB_FIELDS) <= set(table.fields):
        return None
    return np.rint(_numbers(table, RGB_FIELDS, low=0.0, high=255.0)).astype(np.uint8)


def _numbers(table: CgatsTable, fields: tuple[str, ...], *, low: float, high: float) -> FloatArray:
    """Return the columns `fields`, shape (rows, fields), each number checked against its range."""
    places = [(name, table.fields.index(name)) for name in fields]
    return np.array(
        [
            [_number(table, row, name, place, (low, high)) for name, place in places]
            for row in table.rows
        ],
        dtype=np.float64,
    )


def _number(
    table: CgatsTable, row: CgatsRow, name: str, place: int, limits: tuple[float, float]
) -> float:
    word = row.values[place]
    try:
        number = float(word)
    except ValueError as error:
        hint = "write numbers with a point, not a comma" if "," in word else "correct the value"
        raise table.error(f"{name} is '{word}', not a number", hint, row.line) from error
    if not limits[0] <= number <= limits[1]:  # also false for NaN
        problem = f"{name} is {word}, outside {limits[0]:g} to {limits[1]:g}"
        raise table.error(problem, "measure the patch again, or correct the value", row.line)
    return number


def _source(table: CgatsTable) -> str:
    words = (table.keywords.get(name, "") for name in ("ORIGINATOR", "INSTRUMENTATION"))
    return "; ".join(word for word in words if word) or table.path.name


def _named_sheet(table: CgatsTable) -> SheetGeometry:
    """Return the sheet whose version the file names, or the newest."""
    version = table.keywords.get("SHEET_VERSION")
    named = [sheet for sheet in known_sheets() if str(sheet.version) == version]
    return named[0] if named else known_sheets()[-1]


def _of_sheet(table: CgatsTable, values: PatchValues, geometry: SheetGeometry) -> PatchValues:
    """Keep the rows that the sheet needs, in the order of its nominal file."""
    version = table.keywords.get("SHEET_VERSION", str(geometry.version))
    if version != str(geometry.version):
        raise table.error(
            f"it belongs to sheet version {version}, not {geometry.version}",
            "give the values measured on the sheet that you photograph",
        )
    wanted = tuple(name for name in nominal_values(geometry).names if name not in _greys(geometry))
    rows = [_row_of(values.names, name) for name in wanted]
    missing = [name for name, row in zip(wanted, rows, strict=True) if row is None]
    if missing:
        unknown = sorted(set(values.names) - set(wanted))
        raise table.error(
            f"it lacks the patches {', '.join(missing)}",
            "measure them too" + (f"; not known: {', '.join(unknown)}" if unknown else ""),
        )
    chosen = np.array(rows, dtype=np.intp)
    of_sheet = replace(
        values,
        names=wanted,
        xyz=values.xyz[chosen],
        rgb=None if values.rgb is None else values.rgb[chosen],
    )
    _refuse_black(table, of_sheet)
    return of_sheet


def _greys(geometry: SheetGeometry) -> frozenset[str]:
    """Return the names of the ladder's greys, whose bars are too narrow for an instrument."""
    cells = geometry.ladder.cells if geometry.ladder else ()
    return frozenset(f"{cell.name}-{part}" for cell in cells for part in ("light", "dark"))


def _refuse_black(table: CgatsTable, values: PatchValues) -> None:
    """Raise DataFileError for patches that send no light: a gap in the table, and no print."""
    light = zip(values.names, values.xyz[:, 1].tolist(), strict=True)
    black = [name for name, y in light if y < LEAST_Y]
    if black:
        raise table.error(
            f"the patches {', '.join(black)} are perfectly black",
            "measure them again; even black ink has a Y of 0.5 and more",
        )


def _row_of(names: tuple[str, ...], name: str) -> int | None:
    """Find the row of a patch, or that of the name which stands for both twins."""
    candidates = (name, name[:-1])
    return next((names.index(candidate) for candidate in candidates if candidate in names), None)
