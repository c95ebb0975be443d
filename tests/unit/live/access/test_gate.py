"""Strangers are turned away by their headers, and the slow ones by the clock."""

from __future__ import annotations

import socket
import time
import urllib.request
from contextlib import ExitStack
from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import pytest

from greasecheck.live.access import gate
from greasecheck.live.access.gate import STRANGER_BURST, Gate
from greasecheck.live.access.origin import LOOPBACK
from greasecheck.live.access.pairing import COOKIE, Pairing
from greasecheck.logbook.store.book import Logbook
from tests.unit.live.phones import live_settings, running

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from waitress.parser import HTTPRequestParser

CODES: list[str] = []
PATIENCE_S = 120.0  # a busy machine is slow, which is no fault


@pytest.fixture
def pairing() -> Pairing:
    return Pairing(CODES.append)


@pytest.fixture
def port(tmp_path: Path, pairing: Pairing) -> Iterator[int]:
    """Serve with pairing on the loopback."""
    settings = live_settings(tmp_path, pairing=pairing)
    Logbook(settings.logbook, create=True).close()
    with running(settings) as address:
        yield int(address.rstrip("/").rsplit(":", 1)[1])


def connect(port: int) -> socket.socket:
    return socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_S)


def answered(port: int, request: bytes) -> bytes:
    """Send the beginning of a request; return the first line of the answer."""
    with connect(port) as one:
        one.sendall(request)
        return one.recv(4096).split(b"\r\n")[0]


def test_a_large_body_is_refused_before_it_is_sent(port: int) -> None:
    head = b"POST /photos HTTP/1.1\r\nHost: localhost\r\nContent-Length: 200000000\r\n"
    assert answered(port, head + b"\r\n").split()[1] == b"413"
    assert answered(port, head + b"Expect: 100-continue\r\n\r\n").split()[1] == b"413"


def test_a_body_without_length_is_refused(port: int) -> None:
    head = b"POST /photos HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\n"
    assert answered(port, head).split()[1] == b"413"


def test_another_name_is_refused_before_the_body(port: int) -> None:
    head = b"POST /pair HTTP/1.1\r\nHost: evil.example\r\nContent-Length: 5000\r\n\r\n"
    assert answered(port, head).split()[1] == b"421"


def test_who_is_paired_may_send_much(port: int, pairing: Pairing) -> None:
    secret = pairing.pair(CODES[-1], "phone")
    head = (
        f"POST /photos HTTP/1.1\r\nHost: localhost\r\nCookie: {COOKIE}={secret}\r\n"
        "Content-Length: 150000\r\nOrigin: http://localhost\r\n\r\n"
    ).encode()
    with connect(port) as one:
        one.sendall(head)
        one.settimeout(0.5)
        with pytest.raises(TimeoutError):
            one.recv(100)


def test_a_stranger_who_asks_too_often_waits_and_the_paired_do_not(
    port: int, pairing: Pairing, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(gate, "STRANGER_PER_S", 0.0)  # however slowly this machine asks
    head = b"GET /pair HTTP/1.1\r\nHost: localhost\r\n\r\n"
    codes = [answered(port, head).split()[1] for _ in range(2 * STRANGER_BURST)]
    assert codes[0] == b"200"
    assert b"429" in codes
    secret = pairing.pair(CODES[-1], "phone")
    asked = f"GET /photos HTTP/1.1\r\nHost: localhost\r\nCookie: {COOKIE}={secret}\r\n\r\n"
    assert answered(port, asked.encode()).split()[1] == b"200"


def test_tries_come_back_with_time() -> None:
    class Clock:
        now_s = 0.0

        def __call__(self) -> float:
            return self.now_s

    clock = Clock()
    guard = Gate(LOOPBACK, Pairing(CODES.append), clock)
    headers = {"HOST": "localhost"}
    for _ in range(STRANGER_BURST):
        assert guard.refusal(headers, "one", 0, chunked=False) is None
    assert guard.refusal(headers, "one", 0, chunked=False) is not None
    assert guard.refusal(headers, "another", 0, chunked=False) is None
    clock.now_s = 1.0
    assert guard.refusal(headers, "one", 0, chunked=False) is None
    clock.now_s = 3600.0  # who waited long has no more of them than at first
    answers = [guard.refusal(headers, "one", 0, chunked=False) for _ in range(2 * STRANGER_BURST)]
    assert answers.count(None) == STRANGER_BURST


def test_without_pairing_all_of_this_computer_is_let_in() -> None:
    guard = Gate(LOOPBACK, None)
    assert guard.refusal({"HOST": "localhost"}, "127.0.0.1", 10**8, chunked=False) is None
    assert guard.refusal({"HOST": "evil.example"}, "127.0.0.1", 0, chunked=False) is not None


def test_a_phone_far_off_has_time_for_its_photo() -> None:
    """It sends 8 MB in 160 s; a header comes in one packet."""
    photo = SimpleNamespace(headers_finished=True, content_length=8_000_000)
    drip = SimpleNamespace(headers_finished=False, content_length=8_000_000)
    form = SimpleNamespace(headers_finished=True, content_length=0)
    times_s = [gate._time_s(cast("HTTPRequestParser", one)) for one in (photo, form, drip)]
    assert times_s[0] - times_s[1] == 160.0
    assert times_s[2] == gate.HEADER_S < times_s[1]


def test_a_header_that_drips_ends_its_connection(
    port: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(gate, "HEADER_S", 0.5)
    begun = time.monotonic()
    with connect(port) as one, pytest.raises(OSError, match=r"."):  # noqa: PT012 - until it is closed
        while time.monotonic() < begun + PATIENCE_S:
            one.sendall(b"X")
            time.sleep(0.1)
    assert time.monotonic() < begun + PATIENCE_S


def test_many_that_drip_leave_room_for_others(port: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(gate, "MOST_OPEN", 20)
    with ExitStack() as stack:
        for _ in range(60):
            one = stack.enter_context(connect(port))
            one.sendall(b"POST /pair HTTP/1.1\r\nX-Slow: ")
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/pair", timeout=PATIENCE_S) as answer:
            assert answer.status == 200
