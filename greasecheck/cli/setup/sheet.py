"""Commands for sheet, bone card, dip ladder and tags: print them, show what they hold."""

from __future__ import annotations

import json
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.setup.sheet_json import ladder_json, sheet_json
from greasecheck.cli.shared import logbook_options, options
from greasecheck.cli.shared.output import print_json
from greasecheck.errors import DataFileError, SheetError
from greasecheck.model import Tag, TagOwner
from greasecheck.reference import known_cards, known_sheets

if TYPE_CHECKING:
    from greasecheck.model import PatchValues, SheetGeometry
    from greasecheck.print.pages import Paper

USUAL_TAGS = 40  # printed when none is named: two pages
sheet = typer.Typer(
    no_args_is_help=True,
    help="Print the colour reference sheet, bone card, dip ladder and tags; show what they hold.",
    rich_markup_mode="markdown",
)


class PaperName(StrEnum):
    """Paper to print on."""

    A4 = "a4"
    LETTER = "letter"


class Design(StrEnum):
    """What to print or show."""

    SHEET = "sheet"
    CARD = "card"
    LADDER = "ladder"


PaperOption = Annotated[PaperName, typer.Option("--paper", help="Paper to print on.")]
Dpi = Annotated[float, typer.Option(help="Resolution of a PNG in dpi.", min=30, max=1200)]
Version = Annotated[int | None, typer.Option(help="Version of the sheet; by default the newest.")]
DesignOption = Annotated[Design, typer.Option(help="The sheet, a bone card, or a ladder.")]


def register(app: typer.Typer, *, hidden: bool = False) -> None:
    """Add the group of commands to the app."""
    app.add_typer(sheet, name="sheet", hidden=hidden)


@sheet.command("print")
def print_sheet(
    out: Annotated[
        Path,
        typer.Argument(help="A .pdf for paper, a .png, or .json for its places.", metavar="FILE"),
    ],
    design: DesignOption = Design.SHEET,
    paper: PaperOption = PaperName.A4,
    count: Annotated[int, typer.Option(help="How many cards in a PDF.", min=1, max=100)] = 4,
    tub: Annotated[
        list[str] | None, typer.Option(help="Tubs whose ladders to print, such as 12 or 14-16.")
    ] = None,
    dpi: Dpi = 300,
    version: Version = None,
) -> None:
    """Write sheet, bone card or dip ladder: PDF pages at true size, its area as a PNG, or as JSON.

    Example: greasecheck sheet print card.pdf --design card --count 2
    """
    if design is Design.LADDER:
        _print_ladder(out, tub or [], _paper(paper), dpi)
        return
    from greasecheck.reference.patches.values import nominal_values  # noqa: PLC0415 - loads numpy

    geometry = _geometry(design, version)
    values = nominal_values(geometry)
    kind = _kind(out, ".pdf", ".png", ".json")
    if kind == ".json":
        content = json.dumps({"schema": 1, **sheet_json(geometry, values)}, indent=1).encode()
    elif kind == ".png":
        content = _png(geometry, values, dpi)
    else:
        content = _pdf(geometry, values, _paper(paper), count)
    options.write_bytes(out, content, str(design))
    length = geometry.ruler_length_mm
    typer.echo(f"{out}: print it at 100%, then check that its ruler measures {length:.0f} mm")


def _print_ladder(out: Path, tubs: list[str], paper: Paper, dpi: float) -> None:
    """Write plates of the dip ladder, and how to make and hang them."""
    from greasecheck.print import ladder as printer  # noqa: PLC0415 - loads reportlab
    from greasecheck.print.raster import encode_png  # noqa: PLC0415 - loads reportlab
    from greasecheck.reference.ladder.plate import dip_ladder  # noqa: PLC0415 - only here

    plate, numbers = dip_ladder(), logbook_options.tub_numbers(tubs)
    kind = _kind(out, ".pdf", ".png", ".json")
    if kind == ".json":
        content = json.dumps({"schema": 1, **ladder_json(plate)}, indent=1).encode()
    elif kind == ".png" and len(numbers) <= 1:
        content = encode_png(printer.draw_ladder_png(plate, next(iter(numbers), None), dpi), dpi)
    elif kind == ".png":
        raise DataFileError("a PNG holds one ladder", hint="name one tub, or write a PDF")
    else:
        content = printer.ladder_pdf(plate, numbers, paper)
    options.write_bytes(out, content, "ladder")
    length = plate.stripes.fine.height_mm
    typer.echo(f"{out}: print it at 100%, then check that its stripes measure {length:.0f} mm")


def _png(geometry: SheetGeometry, values: PatchValues, dpi: float) -> bytes:
    from greasecheck.print.raster import encode_png  # noqa: PLC0415 - loads reportlab
    from greasecheck.print.sheet import draw_sheet_png  # noqa: PLC0415 - loads reportlab

    return encode_png(draw_sheet_png(geometry, values, dpi), dpi)


def _pdf(geometry: SheetGeometry, values: PatchValues, paper: Paper, count: int) -> bytes:
    from greasecheck.print import sheet as printer  # noqa: PLC0415 - loads reportlab

    if geometry.is_card:
        return printer.cards_pdf(geometry, values, paper, count)
    return printer.sheet_pdf(geometry, values, paper)


@sheet.command()
def tags(
    out: Annotated[Path, typer.Argument(help="A .pdf for paper or a .png.", metavar="FILE")],
    numbers: Annotated[
        list[str] | None,
        typer.Argument(help="Tubs, such as 12 or 14-16; by default 1 to 40.", metavar="[TUB]..."),
    ] = None,
    skulls: Annotated[
        bool, typer.Option("--skulls", help="Tags for skulls instead of tubs.")
    ] = False,
    paper: PaperOption = PaperName.A4,
    dpi: Dpi = 300,
    version: Version = None,
) -> None:
    """Write tags of tubs or skulls: a PDF with cut marks, or one tag as a PNG.

    Example: greasecheck sheet tags tags.pdf 1 14-20
    """
    from greasecheck.print import sheet as printer  # noqa: PLC0415 - loads reportlab
    from greasecheck.print.raster import encode_png  # noqa: PLC0415 - loads reportlab

    geometry = _geometry(Design.SHEET, version)
    wanted = logbook_options.tub_numbers(numbers) if numbers else range(1, USUAL_TAGS + 1)
    owner = TagOwner.SKULL if skulls else TagOwner.TUB
    chosen = [Tag(number=number, owner=owner) for number in wanted]
    if _kind(out, ".pdf", ".png") == ".pdf":
        content = printer.tags_pdf(geometry, chosen, _paper(paper))
    elif len(chosen) == 1:
        content = encode_png(printer.draw_tag_png(geometry, chosen[0], dpi), dpi)
    else:
        raise DataFileError("a PNG holds one tag", hint="name one number, or write a PDF")
    options.write_bytes(out, content, "tags")
    typer.echo(f"{out}: print at 100% and cut along the marks")


@sheet.command()
def show(
    patches: options.PatchFiles = None,
    sheet_file: options.SheetFile = None,
    design: DesignOption = Design.SHEET,
    version: Version = None,
    as_json: options.AsJson = False,
) -> None:
    """Show the sheet's geometry and patch values, or check your own measured values.

    Example: greasecheck sheet show --patches measured.txt --json
    """
    from greasecheck.reference.patches.values import (  # noqa: PLC0415 - loads numpy
        load_patch_values,
        named_sheet,
        of_sheet,
        values_for,
    )

    if design is Design.LADDER:
        _show_ladder(as_json=as_json)
        return
    own = options.named_sheets(sheet_file)
    given = [load_patch_values(path) for path in patches or ()]
    if given and version is None:
        geometry = named_sheet(given[0], own or (*known_cards(), *known_sheets()))
    else:
        geometry = own[0] if own and version is None else _geometry(design, version)
    values = of_sheet(given[0], geometry) if given else values_for(geometry)
    if as_json:
        print_json(sheet_json(geometry, values))
    else:
        _print_values(geometry, values)


def _show_ladder(*, as_json: bool) -> None:
    from greasecheck.reference.ladder.plate import dip_ladder  # noqa: PLC0415 - only here

    shown = ladder_json(dip_ladder())
    if as_json:
        print_json(shown)
    else:
        typer.echo("\n".join(f"{name}: {value}" for name, value in shown.items()))


def _geometry(design: Design, version: int | None) -> SheetGeometry:
    sheets = known_cards() if design is Design.CARD else known_sheets()
    found = [one for one in sheets if version in (None, one.version)]
    if not found:
        known = ", ".join(str(one.version) for one in sheets)
        raise SheetError(f"there is no {design} version {version}", hint=f"choose from {known}")
    return found[-1]


def _paper(name: PaperName) -> Paper:
    from greasecheck.print.pages import PAPERS  # noqa: PLC0415 - loads reportlab

    return next(paper for paper in PAPERS if paper.name == name)


def _kind(path: Path, *kinds: str) -> str:
    """Return the kind of file by its ending."""
    kind = path.suffix.lower()
    if kind not in kinds:
        raise DataFileError(
            f"{path} is none of {', '.join(kinds)}", hint=f"name it sheet{kinds[0]}, say"
        )
    return kind


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
