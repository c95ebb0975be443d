"""The command that reads photos."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.photos.reading_json import moment_json, reading_json
from greasecheck.cli.photos.reading_table import print_moments, print_readings
from greasecheck.cli.shared import logbook_options, options
from greasecheck.cli.shared.options import ask_depth
from greasecheck.cli.shared.output import print_json, with_progress
from greasecheck.errors import PhotoError
from greasecheck.logbook.store.table import LAST_TUB
from greasecheck.model import BoneState, Reading, Verdict
from greasecheck.words.typed_times import parse_span

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.logbook.readings.photos import Logged
    from greasecheck.measure.reading import ReadSettings
    from greasecheck.measure.workers import Workers

EXIT_NOTHING_READ, EXIT_NOT_ALL_GOOD = 1, 3
READING = "greasecheck.report.overlay"  # what reads a photo and draws what was found


def register(app: typer.Typer) -> None:
    """Add the command to the app."""
    app.command()(read)


def read(
    photos: Annotated[list[Path], typer.Argument(help="Photos, or folders of photos.")],
    reference: options.ReferenceFile = None,
    scale: options.ScaleFile = None,
    patches: options.PatchFiles = None,
    sheet: options.SheetFile = None,
    lens: options.LensFile = None,
    path_mm: options.JarDepth = None,
    dilution: Annotated[
        float, typer.Option(help="Volume after over volume before dilution.", min=1.0, max=1000.0)
    ] = 1.0,
    state: Annotated[BoneState, typer.Option(help="How wet the bone is.")] = BoneState.BLOTTED,
    outline: Annotated[
        list[Path] | None,
        typer.Option(
            help="Outlines of bone drawn by hand: lines x_mm,y_mm or x_px,y_px.", metavar="FILE"
        ),
    ] = None,
    leave_out: Annotated[
        list[Path] | None,
        typer.Option(help="Areas beside the card that are no bone, alike.", metavar="FILE"),
    ] = None,
    tub: Annotated[
        int | None,
        typer.Option(help="Tub number, instead of the tag.", min=0, max=LAST_TUB),
    ] = None,
    zone: options.ZoneName = None,
    skull: logbook_options.SkullOnRest = None,
    shift: Annotated[
        str | None,
        typer.Option(help="Correct the camera's clock, such as +1h or -2d.", metavar="SPAN"),
    ] = None,
    overlay: Annotated[
        Path | None,
        typer.Option(help="Save pictures of what was found into this folder.", metavar="DIR"),
    ] = None,
    logbook: logbook_options.LogbookFile = None,
    no_log: Annotated[bool, typer.Option("--no-log", help="Do not write to the logbook.")] = False,
    again: Annotated[
        bool, typer.Option("--again", help="Read logged photos once more and correct them.")
    ] = False,
    watch: Annotated[
        bool,
        typer.Option("--watch", help="Go on reading what arrives in the folder, until Ctrl-C."),
    ] = False,
    strict: Annotated[
        bool, typer.Option("--strict", help="Exit with code 3 unless all readings are good.")
    ] = False,
    as_json: options.AsJson = False,
) -> None:
    """Read photos: turbidity of the water, yellowness of the bone, and how far to trust them.

    Good and doubtful readings go into the logbook, each photo once. Where every photo is refused,
    the exit status is 1.

    Example: greasecheck read photos/ --overlay found/
    """
    from greasecheck.measure.workers import Workers  # noqa: PLC0415 - needed by few commands

    if watch and (no_log or as_json):
        raise typer.BadParameter("--watch goes neither with --no-log nor with --json")
    if no_log and (skull or shift or again):
        raise typer.BadParameter("--skull, --shift and --again are for the log: not with --no-log")
    found = (_one_folder(photos),) if watch else _found(photos, overlay)
    with Workers(needed=READING) as workers:
        workers.prepare(len(found))  # before this process itself loads numpy and OpenCV
        from greasecheck.cli.photos import read_log  # noqa: PLC0415 - loads OpenCV
        from greasecheck.cli.shared.settings import (  # noqa: PLC0415 - loads OpenCV
            build_settings,
            standards_in_force,
        )
        from greasecheck.garage.standards import require_depth, with_standards  # noqa: PLC0415 - loads OpenCV
        from greasecheck.logbook.readings.drawings import drawn_by_photo  # noqa: PLC0415 - as above
        from greasecheck.logbook.readings.photos import LogSettings, Outcome  # noqa: PLC0415 - as above
        from greasecheck.logbook.skulls.skulls import name_of  # noqa: PLC0415 - as above
        from greasecheck.report.overlay import read_and_draw  # noqa: PLC0415 - loads OpenCV

        settings = build_settings(
            patches=patches,
            sheet=sheet,
            lens=lens,
            reference=reference,
            scale=scale,
            zone=zone,
            path_mm=path_mm,
            dilution=dilution,
            state=state,
            outlines=outline or (),
            left_out=leave_out or (),
            tub=tub,
        )
        ask_depth(path_mm)
        if no_log:
            settings = standards_in_force(settings, logbook)
            require_depth(settings.jar, path_mm)
            readings = read_each(found, settings, overlay, workers)
            _answer(readings, {}, as_json=as_json)
            good = all(reading.verdict is Verdict.GOOD for reading in readings)
            nothing = all(reading.verdict is Verdict.REFUSED for reading in readings)
        else:
            with (
                # Made before it waits, so that others find it to enter in.
                logbook_options.open_logbook(logbook, create=True)
                if watch
                else logbook_options.open_or_make_logbook(logbook)
            ) as book:
                settings = with_standards(settings, book)
                if again:
                    settings = replace(settings, drawn_before=drawn_by_photo(book))
                require_depth(settings.jar, path_mm)
                work = partial(read_and_draw, settings=settings, overlay=overlay)
                skull = skull and name_of(book, skull)
                keep = LogSettings(skull=skull, shift=parse_span(shift or "0h"), again=again)
                if watch:
                    read_log.watch(book, found[0], work, keep, workers)
                logged = read_log.log_all(book, found, work, keep, workers)
            good = _answer_logged(logged, photos, as_json=as_json)
            nothing = all(one.outcome is Outcome.REFUSED for one in logged)
    if strict and not good:
        raise typer.Exit(EXIT_NOT_ALL_GOOD)
    if nothing:
        raise typer.Exit(EXIT_NOTHING_READ)


def _answer_logged(logged: Sequence[Logged], photos: Sequence[Path], *, as_json: bool) -> bool:
    """Print what became of the photos; return whether all readings are good."""
    from greasecheck.cli.photos import read_log  # noqa: PLC0415 - loads OpenCV

    shown = logged if as_json else read_log.news_of(logged, photos)
    readings = tuple(one.reading for one in shown if one.reading)
    _answer(readings, {"photos": read_log.logged_json(logged)}, as_json=as_json)
    read_log.print_outcomes(logged, photos)
    return all(map(read_log.is_good, logged))


def _found(photos: Sequence[Path], overlay: Path | None) -> tuple[Path, ...]:
    from greasecheck.measure.many import find_photos  # noqa: PLC0415 - needed by few commands

    for photo in photos:
        _require_there(photo)
    found = find_photos(photos)
    if not found:
        raise PhotoError(
            f"no photos in {', '.join(map(str, photos))}", hint="name photos, or a folder of them"
        )
    if overlay is not None and len({photo.name for photo in found}) < len(found):
        raise PhotoError(
            "two photos have the same name, and so would their overlays",
            hint="read their folders one by one, each with an --overlay folder of its own",
        )
    return found


def _require_there(photo: Path) -> None:
    try:
        there, reason = photo.exists(), ""
    except OSError as error:  # a name too long, a folder that may not be entered
        there, reason = False, f": {error.strerror}"
    if not there:
        raise PhotoError(f"there is no {photo}{reason}", hint="check its name; nothing was read")


def _one_folder(photos: Sequence[Path]) -> Path:
    if len(photos) != 1 or not photos[0].is_dir():
        raise PhotoError("--watch takes one folder", hint="name the folder the camera saves to")
    return photos[0]


def _answer(readings: Sequence[Reading], more: dict[str, object], *, as_json: bool) -> None:
    from greasecheck.measure.moments import moments_of  # noqa: PLC0415 - loads numpy

    moments = moments_of(readings)
    if as_json:
        together = {"moments": [moment_json(moment) for moment in moments]}
        print_json({"readings": [reading_json(one) for one in readings], **together, **more})
    else:
        print_readings(readings)
        print_moments(moments)


def read_each(
    photos: Sequence[Path], settings: ReadSettings, overlay: Path | None, workers: Workers
) -> tuple[Reading, ...]:
    """Read photos on all cores, with a progress bar on stderr when it takes long."""
    from greasecheck.report.overlay import read_and_draw  # noqa: PLC0415 - loads OpenCV

    work = partial(read_and_draw, settings=settings, overlay=overlay)
    found = with_progress(workers.map(work, photos), len(photos), "reading")
    return tuple(reading for readings in found for reading in readings)
