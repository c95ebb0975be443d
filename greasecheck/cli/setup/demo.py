"""The command that shows what greasecheck does, on an invented season."""

from __future__ import annotations

import shlex
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.photos.reading_json import reading_json
from greasecheck.cli.photos.reading_table import print_readings
from greasecheck.cli.shared import options
from greasecheck.cli.shared.output import print_json, with_progress
from greasecheck.reference import data_folder

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.logbook.store.book import Logbook
    from greasecheck.model import Reading

TRY = (
    ("today --fresh", "one answer a tub, what is due first"),
    ("tub 13", "what is wrong with the badger's tub"),
    ("forecast 19", "when the marten is degreased"),
    ("recipes", "whether ammonia beat soap"),
    ("risk", "which skulls may yellow later"),
)


def register(app: typer.Typer) -> None:
    """Add the command to the app."""
    app.command()(demo)


def demo(
    out: Annotated[
        Path,
        typer.Option(help="Folder for the page, the logbook and the pictures.", metavar="DIR"),
    ] = Path("greasecheck-demo"),
    show: Annotated[bool, typer.Option("--open", help="Open the page in the browser.")] = False,
    as_json: options.AsJson = False,
) -> None:
    """Show what greasecheck does, on an invented season.

    The sample photos are read for real, a simulated log fills the rest, and the season's page is
    written. All of it stays in one folder; your own logbook is not touched.

    Example: greasecheck demo --out greasecheck-demo
    """
    from greasecheck.garage.season import demo as season  # noqa: PLC0415 - loads OpenCV
    from greasecheck.garage.season.page import gather_season  # noqa: PLC0415 - loads scipy
    from greasecheck.report.season.page import season_page  # noqa: PLC0415 - loads matplotlib

    page, book_file = out / season.PAGE, out / season.LOGBOOK
    with season.fresh_logbook(out) as book:
        simulated = season.fill_with_log(book, data_folder("sample_images")).added
        readings = _read_photos(book, out)
        if not as_json:
            print_readings(readings)
        found = gather_season(
            book, season.NOW, overlays=out, simulated=True, progress=with_progress
        )
        options.write_bytes(page, season_page(found).encode(), "page")
    if as_json:
        print_json(
            {
                "page": str(page),
                "logbook": str(book_file),
                "overlays": str(out),
                "now": season.NOW.isoformat(),
                "simulated_rows": simulated,
                "tubs": len(found.tubs),
                "skulls": len(found.skulls),
                "tasks": len(found.tasks),
                "readings": [reading_json(one) for one in readings],
            }
        )
    else:
        typer.echo(_words(page, book_file, season.NOW, simulated["readings"]))
    if show:
        open_in_browser(page)


def _read_photos(book: Logbook, out: Path) -> tuple[Reading, ...]:
    """Read the sample photos into the logbook, and draw what was found into a folder."""
    from greasecheck.cli.photos.read_log import log_all  # noqa: PLC0415 - loads OpenCV
    from greasecheck.cli.shared.settings import build_settings  # noqa: PLC0415 - loads OpenCV
    from greasecheck.garage.season import demo as season  # noqa: PLC0415 - loads OpenCV
    from greasecheck.logbook.readings.photos import LogSettings  # noqa: PLC0415 - loads OpenCV
    from greasecheck.report.overlay import read_and_draw  # noqa: PLC0415 - loads OpenCV

    samples = data_folder("sample_images")
    settings = season.put_tap_water_in_force(
        book, samples, build_settings(patches=[samples / season.PATCHES])
    )
    work = partial(read_and_draw, settings=settings, overlay=out)
    logged = log_all(
        book, season.sample_photos(samples), work, LogSettings(present=season.present())
    )
    return tuple(one.reading for one in logged if one.reading)


def _words(page: Path, book_file: Path, now: datetime, simulated: int) -> str:
    rest = f"--now {now:%Y-%m-%dT%H:%MZ} --logbook {shlex.quote(str(book_file))}"
    tries = "\n".join(f"  greasecheck {command} {rest}\n      {what}" for command, what in TRY)
    return (
        f"\nThese photos are rendered and were read for real; {simulated} more readings of the"
        " invented\nseason are simulated, and marked so in the logbook.\n\n"
        f"  the season's page  {page}   (open it in a browser)\n"
        f"  what was found     {page.parent}/*.overlay.jpg\n"
        f"  the logbook        {book_file}\n\n"
        f"Try on that logbook:\n\n{tries}"
    )


def open_in_browser(page: Path) -> None:
    """Open the page in the browser, or say that none could be started."""
    import webbrowser  # noqa: PLC0415 - only here

    if not webbrowser.open(page.resolve().as_uri()):
        typer.echo(f"no browser could be started; open {page} yourself", err=True)
