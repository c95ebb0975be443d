"""Serves the live page until it is stopped."""

from __future__ import annotations

import errno
import select
import socket
import threading
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from waitress.server import BaseWSGIServer, create_server

from greasecheck.errors import LiveError
from greasecheck.live.access.gate import MOST_OPEN, Gate, gated
from greasecheck.live.app import MAX_UPLOAD_BYTES, make_app
from greasecheck.live.photos.views import read_those_left

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from greasecheck.live.parts import LiveSettings

LOOPBACK_ADDRESS = "127.0.0.1"
EVERY_ADDRESS = "0.0.0.0"
THREADS = 6
MOST_CONNECTIONS = MOST_OPEN + 100  # the gate closes old ones before this is reached
SILENCE_S, CLEAN_UP_S = 15, 5
LOOK_UP_S = 0.2
USE_POLL = hasattr(select, "poll")  # unlike select it has no highest descriptor
MAX_HEADER_BYTES = 16_384
WORDS = {
    errno.EADDRINUSE: ("it is in use", "stop what uses it, or choose another port"),
    errno.EACCES: ("it may not be used", "choose a port from 1024 up"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Server:
    """An open live page.

    Attributes
    ----------
    port : int
        Where it is.
    run, stop : callable
        Serve it until interrupted, or until another thread stops it.
    """

    port: int
    run: Callable[[], None]
    stop: Callable[[], None]


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
        problem, hint = WORDS.get(error.errno or 0, (str(error), "choose another port"))
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
    app, stopped = make_app(settings), threading.Event()
    live = app.extensions["greasecheck"]
    live.measurer.warm_up()
    read_those_left(live)
    channels: dict[int, Any] = {}
    server = create_server(
        app,
        map=channels,
        sockets=[listener],
        threads=THREADS,
        connection_limit=MOST_CONNECTIONS,
        channel_timeout=SILENCE_S,
        cleanup_interval=CLEAN_UP_S,
        max_request_header_size=MAX_HEADER_BYTES,
        max_request_body_size=MAX_UPLOAD_BYTES + MAX_HEADER_BYTES,
        ident=None,
    )
    assert isinstance(server, BaseWSGIServer)
    server.channel_class = gated(Gate(settings.names, settings.pairing))

    def run() -> None:
        try:
            while not stopped.is_set():
                server.asyncore.loop(LOOK_UP_S, USE_POLL, map=channels, count=1)
        finally:
            server.task_dispatcher.shutdown()

    try:
        yield Server(port=listener.getsockname()[1], run=run, stop=stopped.set)
    finally:
        server.asyncore.close_all(channels)
        server.close()
        live.weigher.close()
        live.measurer.close()
