"""Commands that show the season: one page to look at, and its charts as files."""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.shared import logbook_options as options
from greasecheck.cli.shared.options import AsJson, require_place, write_bytes
from greasecheck.cli.shared.output import print_json, with_progress

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from greasecheck.logbook.store.book import Logbook
    from greasecheck.report.charts.style import Chart


class ChartKind(StrEnum):
    """What a chart is of."""

    TUB = "tub"
    TUBS = "tubs"
    RECIPES = "recipes"
    RISK = "risk"


class ChartFormat(StrEnum):
    """How a chart is written."""

    SVG = "svg"
    PNG = "png"


def register(app: typer.Typer) -> None:
    """Add the commands to the app."""
    app.command()(season)


def season(
    file: Annotated[Path, typer.Argument(help="The page to write.", metavar="FILE")] = Path(
        "season.html"
    ),
    overlays: Annotated[
        Path | None,
        typer.Option(
            help="Folder with the pictures that 'read --overlay' wrote, to show the newest.",
            metavar="DIR",
        ),
    ] = None,
    charts: Annotated[
        Path | None,
        typer.Option(help="Write the charts into this folder instead of the page.", metavar="DIR"),
    ] = None,
    tub: Annotated[
        int | None, typer.Option("--tub", help="With --charts: of this tub alone.", min=0)
    ] = None,
    only: Annotated[
        list[ChartKind] | None, typer.Option(help="With --charts: only these kinds.")
    ] = None,
    form: Annotated[
        ChartFormat, typer.Option("--as", help="With --charts: kind of file.")
    ] = ChartFormat.SVG,
    now: options.AsOf = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Write the season's page: today's answers, tubs, skulls, recipes, risks, cautions.

    One HTML file for phone, screen and printer; it needs no network.

    Example: greasecheck season season.html
    """
    if charts is not None:
        kinds = tuple(only or ([ChartKind.TUB] if tub is not None else ChartKind))
        with options.opened_as_of(logbook, now) as (book, at):
            _write_charts(book, at, charts, (kinds, tub), form, as_json=as_json)
        return
    from greasecheck.garage.season.page import gather_season  # noqa: PLC0415 - loads scipy
    from greasecheck.report.season.page import season_page  # noqa: PLC0415 - loads matplotlib

    require_place(file, "page")
    with options.opened_as_of(logbook, now) as (book, at):
        found = gather_season(book, at, overlays=overlays, progress=with_progress)
    write_bytes(file, season_page(found).encode(), "page")
    if as_json:
        print_json({"file": str(file), "tasks": len(found.tasks), "tubs": len(found.tubs)})
    else:
        typer.echo(f"the season's page is {file}; open it in a browser")


def _write_charts(
    book: Logbook,
    now: datetime,
    folder: Path,
    which: tuple[tuple[ChartKind, ...], int | None],
    form: ChartFormat,
    *,
    as_json: bool,
) -> None:
    """Write charts into a folder: each tub's, all tubs' clear dates, recipes, risks."""
    from greasecheck.report.charts.style import png_file, svg_file  # noqa: PLC0415 - loads matplotlib

    draw = {ChartFormat.SVG: svg_file, ChartFormat.PNG: png_file}[form]
    files = []
    for chart in _charts(book, now, *which):
        files.append(folder / f"{chart.name}.{form}")
        write_bytes(files[-1], draw(chart), "chart")
    if as_json:
        print_json({"files": [str(file) for file in files]})
    else:
        typer.echo(f"{len(files)} charts are in {folder}/")


def _charts(
    book: Logbook, now: datetime, kinds: tuple[ChartKind, ...], tub: int | None
) -> Iterator[Chart]:
    """Yield the charts of these kinds; what nothing is known of has none."""
    from greasecheck.garage.season import parts as season_parts  # noqa: PLC0415 - loads scipy
    from greasecheck.garage.soaks.kept import all_soak_fits  # noqa: PLC0415 - loads scipy
    from greasecheck.garage.tub_advice import running_advice  # noqa: PLC0415 - loads scipy
    from greasecheck.report.charts.data import SeasonData  # noqa: PLC0415 - as below
    from greasecheck.report.charts.registry import season_charts  # noqa: PLC0415 - loads matplotlib

    data = SeasonData(now=now.astimezone())
    if ChartKind.TUB in kinds or ChartKind.TUBS in kinds:
        tubs = season_parts.tub_parts(book, now, tub, progress=with_progress)
        if ChartKind.TUB in kinds:
            yield from (one for parts in tubs for one in season_parts.charts_of_tub(parts, now))
        if ChartKind.TUBS in kinds:
            data = replace(data, ends=season_parts.ends_by_row(tubs))
    if ChartKind.RECIPES in kinds or ChartKind.RISK in kinds:
        fits = all_soak_fits(book, now, progress=with_progress)
        if ChartKind.RECIPES in kinds:
            data = replace(data, ratios=season_parts.recipe_parts(fits).found.ratios)
        if ChartKind.RISK in kinds:
            advised = running_advice(book, [fit.soak for fit in fits], now)
            data = replace(data, risks=season_parts.risk_parts(book, fits, advised, now).by_name)
    for charts in season_charts(data).values():
        yield from charts
