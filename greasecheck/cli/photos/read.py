"""The command that reads photos."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.shared import logbook_options, options
from greasecheck.cli.shared.options import ask_depth
from greasecheck.errors import PhotoError
from greasecheck.logbook.store.table import LAST_TUB
from greasecheck.model import BoneState
from greasecheck.words.typed_times import parse_span

if TYPE_CHECKING:
    from collections.abc import Sequence


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
        from greasecheck.cli.photos.read_job import ReadJob, Wanted, log_photos, show_photos  # noqa: PLC0415 - loads OpenCV
        from greasecheck.cli.shared.settings import build_settings  # noqa: PLC0415 - loads OpenCV

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
        job = ReadJob(
            named=photos,
            found=found,
            settings=settings,
            path_mm=path_mm,
            overlay=overlay,
            logbook=logbook,
            workers=workers,
            as_json=as_json,
        )
        wanted = Wanted(skull=skull, shift=parse_span(shift or "0h"), again=again, watch=watch)
        verdicts = show_photos(job) if no_log else log_photos(job, wanted)
    if strict and not verdicts.all_good:
        raise typer.Exit(EXIT_NOT_ALL_GOOD)
    if verdicts.all_refused:
        raise typer.Exit(EXIT_NOTHING_READ)


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
