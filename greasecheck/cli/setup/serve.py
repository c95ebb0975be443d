"""The command that serves the live page."""

from __future__ import annotations

import os
import signal
import webbrowser
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.shared import logbook_options, options

if TYPE_CHECKING:
    from collections.abc import Iterator
    from types import FrameType

    from greasecheck.measure.reading import ReadSettings

INTERRUPTED = 130
USUAL_PORT = 8377


def register(app: typer.Typer) -> None:
    """Add the command to the app."""
    app.command()(serve)


def serve(
    port: Annotated[int, typer.Option(help="Where to serve it.", min=0, max=65_535)] = USUAL_PORT,
    lan: Annotated[
        bool, typer.Option("--lan", help="Let phones on the local network in, by a pairing code.")
    ] = False,
    reference: options.ReferenceFile = None,
    scale: options.ScaleFile = None,
    patches: options.PatchFiles = None,
    sheet: options.SheetFile = None,
    lens: options.LensFile = None,
    path_mm: options.JarDepth = None,
    zone: options.ZoneName = None,
    photos: Annotated[
        Path | None,
        typer.Option(
            help="Folder for the photos that are logged; by default beside the logbook.",
            metavar="DIR",
        ),
    ] = None,
    logbook: logbook_options.LogbookFile = None,
) -> None:
    """Serve the live page: today's list, photos read at once, water changes by one tap.

    Only this computer can open it, unless --lan lets in the phones that know the code.

    Example: greasecheck serve --lan
    """
    from greasecheck.cli.shared.settings import (  # noqa: PLC0415 - loads OpenCV
        build_settings,
        standards_in_force,
    )
    from greasecheck.garage.standards import require_depth  # noqa: PLC0415 - as above

    read = build_settings(
        patches=patches,
        sheet=sheet,
        lens=lens,
        reference=reference,
        scale=scale,
        zone=zone,
        path_mm=path_mm,
    )
    require_depth(standards_in_force(read, logbook).jar, path_mm)
    _until_stopped(logbook, photos, read, port, lan=lan)


def open_page() -> None:
    """Serve the live page for this computer and open it in the browser; the setup, when new."""
    from greasecheck.cli.shared.settings import build_settings  # noqa: PLC0415 - loads OpenCV

    named = os.environ.get(logbook_options.LOGBOOK_VARIABLE)
    _until_stopped(Path(named) if named else None, None, build_settings(), USUAL_PORT, show=True)


def _until_stopped(
    logbook: Path | None,
    photos: Path | None,
    read: ReadSettings,
    port: int,
    *,
    lan: bool = False,
    show: bool = False,
) -> None:
    with stopped_gently():
        _serve(logbook, photos, read, port, lan=lan, show=show)
    typer.echo("stopped; what was logged is safe, photos that wait are there next time", err=True)
    raise typer.Exit(INTERRUPTED)


def _serve(
    logbook: Path | None,
    photos: Path | None,
    read: ReadSettings,
    port: int,
    *,
    lan: bool,
    show: bool,
) -> None:
    """Serve until interrupted; a new logbook is made once the port is had."""
    from greasecheck.live.access.origin import LOOPBACK, lan_names  # noqa: PLC0415 - keeps start-up light
    from greasecheck.live.access.pairing import Pairing  # noqa: PLC0415
    from greasecheck.live.parts import LiveSettings  # noqa: PLC0415 - loads matplotlib
    from greasecheck.live.photos.waiting import waiting_folder  # noqa: PLC0415 - as above
    from greasecheck.live.server import listen, serving  # noqa: PLC0415 - as above

    with ExitStack() as stack:
        listener = stack.enter_context(listen(port, lan=lan))
        with logbook_options.open_logbook(logbook, create=True) as book:
            path = book.path
        waiting = stack.enter_context(waiting_folder(path.with_suffix(".waiting")))
        settings = LiveSettings(
            logbook=path,
            photos=photos or path.with_suffix(".photos"),
            waiting=waiting,
            read=read,
            names=lan_names() if lan else LOOPBACK,
            pairing=Pairing(_print_code) if lan else None,
        )
        with serving(settings, listener) as server:
            _print_address(server.port, lan=lan)
            if show:
                webbrowser.open(f"http://localhost:{server.port}/")
            with suppress(KeyboardInterrupt):
                server.run()


def _print_code(code: str) -> None:
    typer.echo(f"pairing code: {code}", err=True)


def _print_address(port: int, *, lan: bool) -> None:
    if not lan:
        typer.echo(f"the live page is at http://localhost:{port}/ for this computer; Ctrl-C stops")
        return
    import segno  # noqa: PLC0415 - only for phones

    from greasecheck.live.access.origin import lan_addresses  # noqa: PLC0415 - keeps start-up light

    addresses = [f"http://{address}:{port}/" for address in lan_addresses()]
    for address in addresses[:1]:
        segno.make_qr(address).terminal(compact=True)
    typer.echo(f"open {' or '.join(addresses) or 'this computer by its name'} on the phone")
    typer.echo(
        "Anyone who knows the code and is on this network can read and write the logbook, and "
        "what passes is not encrypted: use it only on a network you trust. Ctrl-C stops."
    )


@contextmanager
def stopped_gently() -> Iterator[None]:
    """Let a request to terminate end the server as Ctrl-C does, so that what runs is ended."""

    def stop(_signal: int, _frame: FrameType | None) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, stop)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)
