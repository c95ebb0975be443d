"""Turns a table of patches into colours: XYZ for D65 and the 2 degree observer."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model import PatchValues
from greasecheck.reference.cie import (
    WHITES,
    adapt_to_d65,
    lab_to_xyz,
    reflectance_to_xyz,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import FloatArray
    from greasecheck.reference.patches.cgats import CgatsRow, CgatsTable

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
PERCENT_FROM, FRACTION_TO = 5.0, 1.5  # largest value of a spectral table in percent, as fraction


def table_values(table: CgatsTable) -> PatchValues:
    """Return the colours of all rows of a table.

    Spectral reflectances are used before XYZ, and XYZ before CIELAB. A table is taken as measured
    unless it says `VALUES "nominal"`.

    Raises
    ------
    DataFileError
        When it names no patches, states no white, or holds an impossible value.
    """
    return PatchValues(
        names=_names(table),
        xyz=_read_only(_xyz(table)),
        measured=table.keywords.get("VALUES", "measured").lower() != "nominal",
        source=_source(table),
        rgb=_rgb(table),
        sheet_version=_sheet_version(table),
        file=table.path.name,
    )


def _sheet_version(table: CgatsTable) -> int | None:
    stated = table.keywords.get("SHEET_VERSION")
    if stated is None:
        return None
    if not stated.isdecimal():
        raise table.error(f"SHEET_VERSION is '{stated}'", "write the number of the sheet's version")
    return int(stated)


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
    spans = wavelengths_nm[0] <= 400 and wavelengths_nm[-1] >= 700
    if not (spans and all(0 < step <= 20 for step in np.diff(wavelengths_nm))):
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
