"""The gate: looks at a request's header before its body is taken in, and at its time.

The web server takes in a whole body before it asks the page. Here a request is turned away as soon
as its header is there: under another name, from strangers with large bodies or too many requests,
and whoever sends so slowly that connections would run out.
"""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from typing import TYPE_CHECKING, Any

from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser
from waitress.utilities import Error
from werkzeug.http import parse_cookie

from greasecheck.live.access.origin import is_own_name
from greasecheck.live.access.pairing import COOKIE

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping

    from greasecheck.live.access.pairing import Pairing

STRANGER_BYTES = 100_000  # body of one who is not paired; the code's form has 200
HEADER_S = 10.0  # a header comes in one packet; twice as long lets twice as many idlers in
SLOWEST_BYTES_PER_S = 50_000.0  # a phone at the garage's far end sends 8 MB in 160 s
BODY_S = 20.0  # beyond what the body's length allows
STRANGER_BURST, STRANGER_PER_S = 30, 10.0  # a page asks thrice; a person types a code in seconds
MOST_STRANGERS = 1000
MOST_OPEN = 300  # connections; beyond, the oldest that is not let in is closed
USE_OWN_NAME = "use the address that the terminal shows"


class Gate:
    """Decides by headers alone who may go on.

    Parameters
    ----------
    names : collection of str
        What this machine may be called.
    pairing : Pairing or None
        Who is let in; None lets everyone in, on the loopback alone.
    clock : callable
        Gives seconds that never run backwards [s].
    """

    def __init__(
        self,
        names: Collection[str],
        pairing: Pairing | None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._names = names
        self._pairing = pairing
        self._clock = clock
        self._lock = threading.Lock()
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def refusal(
        self, headers: Mapping[str, str], address: str, length: int, *, chunked: bool
    ) -> Error | None:
        """Return why a request is turned away; None when it may go on.

        Parameters
        ----------
        headers : mapping of str to str
            Of the request, named as in WSGI.
        address : str
            Where it comes from.
        length : int
            Stated length of its body [bytes].
        chunked : bool
            Whether it states no length.
        """
        if not is_own_name(headers.get("HOST", ""), self._names):
            return _turned_away(421, "Misdirected Request", USE_OWN_NAME)
        if self.lets_in(headers):
            return None
        if chunked or length > STRANGER_BYTES:
            return _turned_away(413, "Content Too Large", "type the pairing code first")
        if not self._has_tries(address):
            return _turned_away(429, "Too Many Requests", "wait a few seconds")
        return None

    def lets_in(self, headers: Mapping[str, str]) -> bool:
        """Return whether a request carries the cookie of one who is paired."""
        if self._pairing is None:
            return True
        return self._pairing.knows(parse_cookie(headers.get("COOKIE", "")).get(COOKIE))

    def _has_tries(self, address: str) -> bool:
        """Take one of an address's requests, which come back with time."""
        now = self._clock()
        with self._lock:
            left, since = self._left.pop(address, (float(STRANGER_BURST), now))
            left = min(STRANGER_BURST, left + (now - since) * STRANGER_PER_S)
            self._left[address] = (left - 1 if left >= 1 else left, now)
            while len(self._left) > MOST_STRANGERS:
                self._left.popitem(last=False)
        return left >= 1


class GatedParser(HTTPRequestParser):
    """Parses a request; one that the gate turns away is over with its header."""

    gate: Gate
    address: str
    let_in = False

    def parse_header(self, header_plus: bytes) -> None:
        """Parse the header and ask the gate."""
        super().parse_header(header_plus)
        refusal = self.gate.refusal(
            self.headers, self.address, self.content_length, chunked=self.chunked
        )
        self.let_in = refusal is None and self.gate.lets_in(self.headers)
        if refusal is not None:
            self.error, self.body_rcv, self.content_length = refusal, None, 0
            self.expect_continue = False


class GatedChannel(HTTPChannel):
    """A connection whose requests pass the gate, and end in a time that their length allows."""

    gate: Gate

    def __init__(self, server: Any, sock: Any, addr: Any, adj: Any, map: Any = None) -> None:  # noqa: ANN401 - as waitress calls it
        super().__init__(server, sock, addr, adj, map)
        parser = type("Parser", (GatedParser,), {"gate": self.gate, "address": str(addr[0])})
        self.parser_class = parser
        self.begun_at = self.creation_time
        _make_room(server.active_channels.values())

    def received(self, data: bytes) -> bool:
        """Take in a piece of a request."""
        if self.request is None:
            self.begun_at = time.time()
        return bool(super().received(data))

    def readable(self) -> bool:
        """Return whether more is wanted; a request that takes too long ends its connection."""
        if self.request is not None and not self.requests:
            late = time.time() > self.begun_at + _time_s(self.request)
            self.will_close = self.will_close or late
        return bool(super().readable())

    @property
    def is_let_in(self) -> bool:
        """Whether a request is being answered, or one of somebody who is paired comes in."""
        return bool(self.requests) or getattr(self.request, "let_in", False)


def gated(gate: Gate) -> type[GatedChannel]:
    """Return the kind of connection that asks `gate`."""
    return type("Channel", (GatedChannel,), {"gate": gate})


def _turned_away(code: int, reason: str, why: str) -> Error:
    """Return the answer to a request that is not taken in (codes: RFC 9110, RFC 6585)."""
    error = Error(why)
    error.code, error.reason = code, reason
    return error


def _time_s(request: HTTPRequestParser) -> float:
    """Return how long a request may take to come in [s]."""
    if not request.headers_finished:
        return HEADER_S
    return HEADER_S + BODY_S + request.content_length / SLOWEST_BYTES_PER_S


def _make_room(channels: Collection[GatedChannel]) -> None:
    """Close the oldest connection that is not let in, when there are too many."""
    open_now = [channel for channel in channels if not channel.will_close]
    if len(open_now) > MOST_OPEN:
        strangers = [channel for channel in open_now if not channel.is_let_in]
        if strangers:
            min(strangers, key=lambda channel: channel.begun_at).will_close = True
