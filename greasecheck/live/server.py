"""Serves the live page until it is stopped."""

from __future__ import annotations

import errno
import socket
import tempfile
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from waitress.server import create_server

from greasecheck.errors import LiveError
from greasecheck.live.app import MAX_UPLOAD_BYTES, make_app

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from greasecheck.live.parts import LiveSettings

LOOPBACK_ADDRESS = "127.0.0.1"
EVERY_ADDRESS = "0.0.0.0"
THREADS = 6
MOST_CONNECTIONS = 40
SILENCE_S = 30
MAX_HEADER_BYTES = 16_384
WORDS = {
    errno.EADDRINUSE: ("it is in use", "stop what uses it, or choose another by --port"),
    errno.EACCES: ("it may not be used", "choose one from 1024 up by --port"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Server:
    """An open live page: its port, and how to serve it until Ctrl-C, or to end it elsewhere."""

    port: int
    run: Callable[[], None]
    close: Callable[[], None]


def listen(port: int, *, lan: bool) -> socket.socket:
    """Take a port, before anything is promised about it.

    Parameters
    ----------
    port : int
        Its number; 0 takes any free one.
    lan : bool
        Whether the local network may come in, or this computer alone.

    Raises
    ------
    LiveError
        When it cannot be had.
    """
    try:
        return socket.create_server((EVERY_ADDRESS if lan else LOOPBACK_ADDRESS, port))
    except OSError as error:
        problem, hint = WORDS.get(error.errno or 0, (str(error), "choose another by --port"))
        raise LiveError(f"port {port} cannot be opened: {problem}", hint=hint) from error


@contextmanager
def serving(settings: LiveSettings, listener: socket.socket) -> Iterator[Server]:
    """Open the live page; what is given serves it.

    Parameters
    ----------
    settings : LiveSettings
        What is served, and to whom.
    listener : socket.socket
        From `listen`; it is closed at the end.
    """
    app = make_app(settings)
    server = create_server(
        app,
        sockets=[listener],
        threads=THREADS,
        connection_limit=MOST_CONNECTIONS,
        channel_timeout=SILENCE_S,
        max_request_header_size=MAX_HEADER_BYTES,
        max_request_body_size=MAX_UPLOAD_BYTES + MAX_HEADER_BYTES,
        ident=None,
    )
    try:
        yield Server(port=listener.getsockname()[1], run=server.run, close=server.close)
    finally:
        server.close()
        app.extensions["greasecheck"].weigher.close()


@contextmanager
def waiting_folder() -> Iterator[Path]:
    """Give an empty folder for photos that wait, which goes with all that is in it."""
    with tempfile.TemporaryDirectory(prefix="greasecheck-", ignore_cleanup_errors=True) as name:
        yield Path(name)
