"""Options that several commands share, and the files they name."""

from __future__ import annotations

import os
import re
from itertools import chain
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Annotated
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import typer

from greasecheck.cli.shared.refusals import REFUSALS
from greasecheck.errors import DataFileError
from greasecheck.logbook.store.book import default_path
from greasecheck.logbook.store.drafts import whole_file
from greasecheck.model import Drawn
from greasecheck.reference.folder import plain_file

if TYPE_CHECKING:
    from greasecheck.model import SheetGeometry, Stroke

# Jars to stand before a sheet are deeper; half of it would let pass 15 mm for 15 cm.
SHALLOW_MM = 15.0
ELSEWHERE = "choose a folder you may write to"
KIND_BYTES = 4  # at the beginning of a file, by which a page differs from a PDF or a logbook

AsJson = Annotated[bool, typer.Option("--json", help="Answer as one JSON object on stdout.")]
PatchFiles = Annotated[
    list[Path] | None,
    typer.Option(
        "--patches",
        envvar="GREASECHECK_PATCHES",
        help="Your own measured patch values (CGATS text or CSV), one file for each design of"
        " sheet; without it readings are card-relative.",
        metavar="FILE",
    ),
]
SheetFile = Annotated[
    Path | None,
    typer.Option(
        "--sheet",
        envvar="GREASECHECK_SHEET",
        help="Geometry of your own chart, read instead of the greasecheck sheet; by default"
        " sheet.toml in your data folder, if there is one.",
        metavar="FILE",
    ),
]
LensFile = Annotated[
    Path | None,
    typer.Option(
        "--lens",
        envvar="GREASECHECK_LENS",
        help="Lens file made by 'greasecheck camera'.",
        metavar="FILE",
    ),
]
ReferenceFile = Annotated[
    Path | None,
    typer.Option(
        "--reference",
        help="Clear-water reference file; by default the one in force in the logbook.",
        metavar="FILE",
    ),
]
ScaleFile = Annotated[
    Path | None,
    typer.Option(
        "--scale",
        help="Turbidity scale file; by default the one in force in the logbook.",
        metavar="FILE",
    ),
]
PathMm = Annotated[
    float,
    typer.Option(
        "--path-mm",
        help="Inner depth of the jar along the line of sight [mm].",
        min=5.0,
        max=500.0,
    ),
]
JarDepth = Annotated[
    float | None,
    typer.Option(
        "--path-mm",
        help="Inner depth of the jar [mm]; by default that of the reference, else 60.",
        min=5.0,
        max=500.0,
    ),
]
ZoneName = Annotated[
    str | None,
    typer.Option(
        "--zone",
        help="Time zone of photos that carry none, such as Europe/Oslo.",
    ),
]


def named_sheets(named: Path | None) -> tuple[SheetGeometry, ...]:
    """Return the user's own chart, which replaces the built-in sheets; none without one.

    Raises
    ------
    DataFileError
        When its geometry cannot be read.
    """
    from greasecheck.reference import read_geometry  # noqa: PLC0415 - keeps start-up light

    own = default_path().with_name("sheet.toml")
    if named is None and not own.is_file():
        return ()
    return (read_geometry(named or own),)


def ask_depth(path_mm: float | None) -> None:
    """Ask on stderr whether a depth was meant in centimetres."""
    if path_mm is not None and path_mm < SHALLOW_MM:
        typer.echo(
            f"is the jar really {path_mm:g} mm deep? {path_mm:g} cm are {path_mm * 10:g} mm",
            err=True,
        )


def zone_of(name: str | None) -> ZoneInfo | None:
    """Return the time zone called `name`.

    Raises
    ------
    DataFileError
        When no zone has that name.
    """
    try:
        return ZoneInfo(name) if name else None
    except (ZoneInfoNotFoundError, OSError, ValueError) as error:  # OSError: half of a name
        raise DataFileError(
            f"'{name}' is no time zone", hint="name it like Europe/Oslo or America/Denver"
        ) from error


def read_text(path: Path, what: str) -> str:
    """Read a small text file.

    Raises
    ------
    DataFileError
        When it cannot be read.
    """
    try:
        return plain_file(path).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise DataFileError(
            f"cannot read the {what} {path}: {error}", hint="check the file's name"
        ) from error


def write_text(path: Path, text: str, what: str) -> None:
    """Write a small text file, whole or not at all; raises as `write_bytes` does."""
    write_bytes(path, text.encode(), what)


def write_bytes(path: Path, content: bytes, what: str) -> None:
    """Write a file, whole or not at all, in the place of none but an earlier one of its kind.

    Raises
    ------
    DataFileError
        When it cannot be written, or something else is there, which is left as it was.
    """
    _refuse_other_kind(path, content, what)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with whole_file(path) as draft:
            draft.write_bytes(content)
    except OSError as error:
        raise DataFileError(
            f"cannot write the {what} {path}: {error.strerror or error}",
            hint=REFUSALS.get(error.errno or 0, ELSEWHERE),
        ) from error


def require_place(path: Path, what: str) -> None:
    """Refuse a place that may not be written to before long work for it begins.

    Raises
    ------
    DataFileError
        When its folder is there and takes no file.
    """
    folder = path.parent
    if folder.exists() and not (folder.is_dir() and os.access(folder, os.W_OK)):
        raise DataFileError(
            f"cannot write the {what} {path}: its folder takes no file",
            hint=ELSEWHERE,
        )


def _refuse_other_kind(path: Path, content: bytes, what: str) -> None:
    """Refuse to replace what is no file, or one that begins unlike the new content."""
    if not path.exists():
        return
    if not path.is_file() or _beginning(path) not in (b"", content[:KIND_BYTES]):
        raise DataFileError(
            f"{path} is there and is no {what}: it was left as it is",
            hint="choose another name, or move it away first",
        )


def _beginning(path: Path) -> bytes | None:
    """Return the first bytes of a file; None where it cannot be read."""
    try:
        with path.open("rb") as there:
            return there.read(KIND_BYTES)
    except OSError:
        return None


def read_outlines(path: Path, stroke: Stroke) -> tuple[Drawn, ...]:
    """Read hand-drawn outlines: lines of two numbers, at least three each, blank lines between.

    A first line ``x_px,y_px`` says that they are pixels of the photo; ``x_mm,y_mm``, or none, that
    they are mm on the sheet or card.

    Raises
    ------
    DataFileError
        When a line does not hold two numbers, or an outline has too few.
    """
    text = read_text(path, "outline")
    loops = [block.splitlines() for block in re.split(r"\n\s*\n", text.strip())]
    in_px = any(line.startswith("x_px") for line in loops[0])
    return tuple(Drawn(stroke=stroke, points=_corners(path, lines), in_px=in_px) for lines in loops)


def _corners(path: Path, lines: list[str]) -> tuple[tuple[float, float], ...]:
    rows = [line for line in lines if not line.startswith(("#", "x_mm", "x_px"))]
    hint = "write x_mm,y_mm or x_px,y_px a line, a blank line between outlines"
    try:
        points = tuple((float(x), float(y)) for x, y in (row.split(",") for row in rows))
    except ValueError as error:
        problem = f"the outline {path} has a line that is not two numbers"
        raise DataFileError(problem, hint=hint) from error
    if len(points) < 3 or not all(map(isfinite, chain.from_iterable(points))):
        raise DataFileError(f"the outline {path} needs at least three points", hint=hint)
    return points
