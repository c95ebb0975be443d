"""Commands for the colour reference sheet and the tub tags: print them, show what they hold."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.setup.sheet_json import sheet_json
from greasecheck.cli.shared import logbook_options, options
from greasecheck.cli.shared.output import print_json
from greasecheck.errors import DataFileError, SheetError
from greasecheck.reference import known_sheets

if TYPE_CHECKING:
    from greasecheck.model import PatchValues, SheetGeometry
    from greasecheck.print.pages import Paper

sheet = typer.Typer(
    no_args_is_help=True,
    help="Print the colour reference sheet and tub tags; show what the sheet holds.",
    rich_markup_mode="markdown",
)


class PaperName(StrEnum):
    """Paper to print on."""

    A4 = "a4"
    LETTER = "letter"


PaperOption = Annotated[PaperName, typer.Option("--paper", help="Paper to print on.")]
Dpi = Annotated[float, typer.Option(help="Resolution of a PNG in dpi.", min=30, max=1200)]
Version = Annotated[int | None, typer.Option(help="Version of the sheet; by default the newest.")]


def register(app: typer.Typer) -> None:
    """Add the group of commands to the app."""
    app.add_typer(sheet, name="sheet")


@sheet.command("print")
def print_sheet(
    out: Annotated[Path, typer.Argument(help="A .pdf for paper or a .png.", metavar="FILE")],
    paper: PaperOption = PaperName.A4,
    dpi: Dpi = 300,
    version: Version = None,
) -> None:
    """Write the sheet: a PDF page at true size, or its printed area as a PNG.

    Example: greasecheck sheet print sheet.pdf --paper letter
    """
    from greasecheck.print import sheet as printer  # noqa: PLC0415 - loads reportlab
    from greasecheck.print.raster import encode_png  # noqa: PLC0415 - loads reportlab
    from greasecheck.reference.patch_values import nominal_values  # noqa: PLC0415 - loads numpy

    geometry = _geometry(version)
    values = nominal_values(geometry)
    if _is_png(out):
        content = encode_png(printer.draw_sheet_png(geometry, values, dpi), dpi)
    else:
        content = printer.sheet_pdf(geometry, values, _paper(paper))
    options.write_bytes(out, content, "sheet")
    typer.echo(f"{out}: print it at 100 %, then check that its ruler measures 100 mm")


@sheet.command()
def tags(
    out: Annotated[Path, typer.Argument(help="A .pdf for paper or a .png.", metavar="FILE")],
    tubs: Annotated[
        list[str] | None,
        typer.Argument(help="Tubs, such as 12 or 14-16; by default all.", metavar="[TUB]..."),
    ] = None,
    paper: PaperOption = PaperName.A4,
    dpi: Dpi = 300,
    version: Version = None,
) -> None:
    """Write tub tags: a PDF with cut marks, or one tag as a PNG.

    Example: greasecheck sheet tags tags.pdf 12 14-20
    """
    from greasecheck.print import sheet as printer  # noqa: PLC0415 - loads reportlab
    from greasecheck.print.raster import encode_png  # noqa: PLC0415 - loads reportlab

    geometry = _geometry(version)
    wanted = logbook_options.tub_numbers(tubs) if tubs else tuple(geometry.tag_ids)
    if not _is_png(out):
        content = printer.tags_pdf(geometry, wanted, _paper(paper))
    elif len(wanted) == 1:
        content = encode_png(printer.draw_tag_png(geometry, wanted[0], dpi), dpi)
    else:
        raise DataFileError("a PNG holds one tag", hint="name one tub, or write a PDF")
    options.write_bytes(out, content, "tags")
    typer.echo(f"{out}: print at 100 % and cut along the marks")


@sheet.command()
def show(
    patches: options.PatchFiles = None,
    sheet_file: options.SheetFile = None,
    version: Version = None,
    as_json: options.AsJson = False,
) -> None:
    """Show the sheet's geometry and patch values, or check your own measured values.

    Example: greasecheck sheet show --patches measured.txt --json
    """
    from greasecheck.reference.patch_values import (  # noqa: PLC0415 - loads numpy
        load_patch_values,
        named_sheet,
        of_sheet,
        values_for,
    )

    own = options.named_sheets(sheet_file)
    given = [load_patch_values(path) for path in patches or ()]
    if given and version is None:
        geometry = named_sheet(given[0], own or known_sheets())
    else:
        geometry = own[0] if own and version is None else _geometry(version)
    values = of_sheet(given[0], geometry) if given else values_for(geometry)
    if as_json:
        print_json(sheet_json(geometry, values))
    else:
        _print_values(geometry, values)


def _geometry(version: int | None) -> SheetGeometry:
    sheets = known_sheets()
    found = [one for one in sheets if version in (None, one.version)]
    if not found:
        known = ", ".join(str(one.version) for one in sheets)
        raise SheetError(f"there is no sheet version {version}", hint=f"choose from {known}")
    return found[-1]


def _paper(name: PaperName) -> Paper:
    from greasecheck.print.pages import PAPERS  # noqa: PLC0415 - loads reportlab

    return next(paper for paper in PAPERS if paper.name == name)


def _is_png(path: Path) -> bool:
    kind = path.suffix.lower()
    if kind not in (".pdf", ".png"):
        raise DataFileError(f"{path} is neither a .pdf nor a .png", hint="name it sheet.pdf, say")
    return kind == ".png"


def _print_values(geometry: SheetGeometry, values: PatchValues) -> None:
    from rich.console import Console  # noqa: PLC0415 - keeps start-up light
    from rich.table import Table  # noqa: PLC0415 - keeps start-up light

    kind = "measured" if values.measured else "nominal"
    table = Table(title=f"sheet version {geometry.version}, {kind} values: {values.source}")
    for column in ("patch", "X", "Y", "Z"):
        table.add_column(column, justify="left" if column == "patch" else "right")
    for name, xyz in zip(values.names, values.xyz, strict=True):
        table.add_row(name, *(f"{value:.2f}" for value in xyz))
    Console().print(table)
