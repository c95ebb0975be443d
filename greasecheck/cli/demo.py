"""The command that shows what greasecheck does, on the sample pictures."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from greasecheck.cli import options
from greasecheck.cli.output import print_json
from greasecheck.cli.reading_json import reading_json
from greasecheck.reference import data_folder

CLEAR_WATER = "01_tap_water.jpg"
PATCHES = "sheet_measured.cgats"


def register(app: typer.Typer) -> None:
    """Add the command to the app."""
    app.command()(demo)


def demo(
    out: Annotated[
        Path, typer.Option(help="Folder for the pictures of what was found.", metavar="DIR")
    ] = Path("greasecheck-demo"),
    as_json: options.AsJson = False,
) -> None:
    """Read the sample pictures of an invented season and show what was found.

    Example: greasecheck demo --out greasecheck-demo
    """
    from greasecheck.cli.read import read_all  # noqa: PLC0415 - keeps start-up light
    from greasecheck.cli.reading_table import print_readings  # noqa: PLC0415
    from greasecheck.cli.settings import build_settings  # noqa: PLC0415 - loads OpenCV
    from greasecheck.measure import clear_water, stand  # noqa: PLC0415 - loads OpenCV

    samples = data_folder("sample_images")
    settings = build_settings(patches=samples / PATCHES)
    seen = stand.view_clear_water(samples / CLEAR_WATER, settings)
    clear = clear_water.make_clear_water([seen], settings.jar.path_mm)
    photos = sorted(path for path in samples.glob("*.jpg") if path.name != CLEAR_WATER)
    readings = read_all(photos, replace(settings, jar=replace(settings.jar, clear=clear)), out)
    if as_json:
        print_json({"overlays": str(out), "readings": [reading_json(one) for one in readings]})
    else:
        print_readings(readings)
        typer.echo(f"\nWhat was found is drawn on the pictures in {out}/")
