"""The command by which a camera does the round of the tubs."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from functools import partial
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.shared import logbook_options, options
from greasecheck.cli.shared.output import print_json
from greasecheck.cli.shared.plain import plain
from greasecheck.errors import PhotoError
from greasecheck.words.photos.camera import notice_words
from greasecheck.words.times import exact
from greasecheck.words.typed_times import parse_span

if TYPE_CHECKING:
    from collections.abc import Iterator

    from greasecheck.garage.camera.rounds import Round, RoundSettings
    from greasecheck.logbook.store.book import Logbook


def register(app: typer.Typer) -> None:
    """Add the command to the app."""
    app.command()(watch)


def watch(
    source: Annotated[
        str,
        typer.Argument(
            help="Number of a camera, such as 0, the address of a stream, or a folder of pictures."
        ),
    ],
    every: Annotated[str, typer.Option(help="Time between rounds.", metavar="SPAN")] = "1h",
    keep: Annotated[str, typer.Option(help="How long to keep pictures.", metavar="SPAN")] = "30d",
    photos: Annotated[
        Path | None,
        typer.Option(help="Where to keep a camera's pictures.", metavar="DIR", file_okay=False),
    ] = None,
    crop: Annotated[
        bool, typer.Option("--crop", help="Of kept pictures, keep the tubs alone.")
    ] = False,
    rounds: Annotated[int | None, typer.Option(help="Stop after so many.", min=1)] = None,
    lens: options.LensFile = None,
    logbook: logbook_options.LogbookFile = None,
    as_json: options.AsJson = False,
) -> None:
    """Let a camera do the round: a picture every hour, all ladders in it read and logged.

    Pictures stay on this computer. The day's first is kept, and those of water changes. Goes on
    through the night, without a camera or with a full disk, and says so; Ctrl-C ends. In a folder
    each picture that another program puts there is a round, and stays as it is.

    Example: greasecheck watch 0 --every 1h --keep 30d
    """
    from greasecheck.cli.shared.settings import build_settings  # noqa: PLC0415 - loads OpenCV
    from greasecheck.garage.camera.pictures import rounds_folder  # noqa: PLC0415 - as above
    from greasecheck.garage.camera.rounds import RoundSettings  # noqa: PLC0415 - as above
    from greasecheck.garage.camera.source import take_picture  # noqa: PLC0415 - as above
    from greasecheck.garage.standards import with_standards  # noqa: PLC0415 - as above
    from greasecheck.measure.reading import view_photo  # noqa: PLC0415 - as above

    if as_json and rounds is None:
        raise typer.BadParameter("--json needs --rounds: it answers when they are done")
    arriving = Path(source).is_dir()
    if arriving and (photos or crop):
        raise typer.BadParameter("--photos and --crop are for a camera; a folder's pictures stay")
    _require_source(source)
    pause_s, done = parse_span(every).total_seconds(), []
    # Made before it waits, so that others find it to enter in.
    with logbook_options.open_logbook(logbook, create=True) as book:
        newest = rounds_folder(book.path)
        settings = RoundSettings(
            folder=photos or newest,
            newest=newest,
            keep=parse_span(keep),
            take=partial(take_picture, source),
            view=partial(view_photo, settings=with_standards(build_settings(lens=lens), book)),
            crop=crop,
        )
        work = partial(_arriving, Path(source)) if arriving else _taken
        for one in islice(work(book, settings, pause_s), rounds):
            if as_json:
                done.append(_json(one))
            else:
                _print(one)
    if as_json:
        print_json({"rounds": done})


def _require_source(source: str) -> None:
    """Refuse what can never give a picture; a camera that is unplugged may come back."""
    if source.isdecimal() or "://" in source:
        return
    if Path(source).is_file():
        raise PhotoError(
            f"{source} is a file, no camera and no folder",
            hint="name the folder it lies in, or read the picture by itself",
        )
    if not Path(source).exists():
        raise PhotoError(
            f"there is no camera and no folder {source}",
            hint="name a camera's number, a stream's address, or a folder that is there",
        )


def _taken(book: Logbook, settings: RoundSettings, pause_s: float) -> Iterator[Round]:
    """Take one picture after the other."""
    from greasecheck.garage.camera.rounds import Watch, do_round  # noqa: PLC0415 - loads OpenCV

    memory = Watch()
    while True:
        yield do_round(book, settings, memory, datetime.now(UTC))
        time.sleep(pause_s)


def _arriving(
    folder: Path, book: Logbook, settings: RoundSettings, pause_s: float
) -> Iterator[Round]:
    """Read what arrives in a folder; one that is gone may come back."""
    from greasecheck.garage.camera.rounds import Watch, no_folder, read_arrived  # noqa: PLC0415 - loads OpenCV
    from greasecheck.logbook.readings.watch import watch_folder  # noqa: PLC0415 - as above

    memory = Watch()
    while True:
        try:
            for paths in watch_folder(folder):
                found = (read_arrived(book, settings, memory, path) for path in paths)
                yield from (one for one in found if one is not None)
        except PhotoError as error:
            yield no_folder(error)
            time.sleep(pause_s)


def _json(one: Round) -> dict[str, object]:
    return {
        "at": plain(one.at),
        "picture": None if one.picture is None else str(one.picture),
        "logged": [
            {"tub": logged.tub, "outcome": logged.outcome, "problem": logged.problem}
            for logged in one.logged
        ],
        "notices": [plain(notice) for notice in one.notices],
    }


def _print(one: Round) -> None:
    read = [logged for logged in one.logged if logged.outcome == "logged"]
    tubs = ", ".join(str(logged.tub) for logged in read) or "none"
    typer.echo(f"{exact(one.at)}  tubs read: {tubs}")
    for logged in one.logged:
        if logged.problem:
            whose = "" if logged.tub is None else f"tub {logged.tub}: "
            typer.echo(f"    {whose}not logged: {logged.problem}; {logged.hint}")
    for notice in one.notices:
        typer.echo(f"    {notice_words(notice)}")
