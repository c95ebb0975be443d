"""Who may ask: only under this machine's own names, and posts only from the live page itself."""

from __future__ import annotations

import re
import socket
from contextlib import closing, suppress
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection

    from werkzeug.datastructures import Headers

LOOPBACK = frozenset({"localhost", "127.0.0.1", "[::1]"})
HOST = re.compile(r"(\[[0-9a-f:.]+\]|[a-z0-9.-]+)(?::\d{1,5})?", re.IGNORECASE)
NOWHERE = ("192.0.2.1", 9)  # RFC 5737: an address for documentation; nothing is sent to it


def is_own_name(host: str, names: Collection[str]) -> bool:
    """Return whether a Host header names this machine, which defeats DNS rebinding.

    Examples
    --------
    >>> is_own_name("localhost:8377", LOOPBACK), is_own_name("evil.example", LOOPBACK)
    (True, False)
    """
    found = HOST.fullmatch(host)
    return found is not None and found[1].lower() in names


def is_own_page(headers: Headers, host: str) -> bool:
    """Return whether a post comes from a page of this server.

    Browsers state it by Sec-Fetch-Site (W3C Fetch Metadata), over plain HTTP by Origin alone; one
    that states neither is not believed.

    Parameters
    ----------
    headers : werkzeug.datastructures.Headers
        Of the request.
    host : str
        Its Host header.
    """
    site, origin = headers.get("Sec-Fetch-Site"), headers.get("Origin")
    if site not in {None, "same-origin"}:
        return False
    return site is not None if origin is None else origin == f"http://{host}"


def lan_addresses() -> tuple[str, ...]:
    """Return this machine's IPv4 addresses on the local network, the likeliest first."""
    found = [*_outgoing_address(), *_named_addresses()]
    return tuple(dict.fromkeys(one for one in found if not one.startswith("127.")))


def lan_names() -> frozenset[str]:
    """Return what this machine may be called on the local network, in Host headers."""
    name = socket.gethostname().lower()
    return frozenset({*LOOPBACK, *lan_addresses(), name, f"{name.partition('.')[0]}.local"})


def _outgoing_address() -> list[str]:
    """Ask which address would be used to go out; a UDP socket connects without a packet."""
    with suppress(OSError), closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as probe:
        probe.connect(NOWHERE)
        return [str(probe.getsockname()[0])]
    return []


def _named_addresses() -> list[str]:
    with suppress(OSError):
        found = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
        return [str(address[4][0]) for address in found]
    return []
