"""The server on a real port, and the command that starts and ends it."""

from __future__ import annotations

import re
import signal
import socket
import subprocess
import sys
import urllib.error
import urllib.request
from contextlib import contextmanager
from typing import TYPE_CHECKING

import pytest

from greasecheck.cli.setup import serve
from greasecheck.errors import LiveError
from greasecheck.live.access.pairing import Pairing
from greasecheck.live.server import WORDS, Server, listen
from greasecheck.live.tubs.weighing import one_worker
from greasecheck.logbook.store.book import Logbook
from tests.unit.cli.photos.test_read import run
from tests.unit.live.phones import live_settings, running

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from greasecheck.live.parts import LiveSettings

SILENT_S = 300


@contextmanager
def served(folder: Path, pairing: Pairing | None = None) -> Iterator[str]:
    settings = live_settings(folder, pairing=pairing)
    Logbook(settings.logbook, create=True).close()
    with running(settings) as address:
        yield address.rstrip("/")


def test_the_page_is_served_without_telling_by_what(tmp_path: Path) -> None:
    with served(tmp_path) as address, urllib.request.urlopen(f"{address}/") as answer:
        assert answer.status == 200
        assert answer.headers["Server"] is None
        assert "Today" in answer.read().decode()


def test_on_the_network_the_code_comes_first(tmp_path: Path) -> None:
    codes: list[str] = []
    with served(tmp_path, Pairing(codes.append)) as address:
        with urllib.request.urlopen(f"{address}/photos") as answer:
            assert answer.url == f"{address}/pair"
        with pytest.raises(urllib.error.HTTPError) as refused:
            urllib.request.urlopen(f"{address}/weighed", data=b"x")
        assert refused.value.code == 403
        refused.value.close()


def test_huge_headers_are_refused_and_others_still_served(tmp_path: Path) -> None:
    with served(tmp_path) as address:
        asked = urllib.request.Request(f"{address}/", headers={"X-Long": "a" * 100_000})
        with pytest.raises((urllib.error.URLError, ConnectionError)) as refused:
            urllib.request.urlopen(asked)
        if isinstance(refused.value, urllib.error.HTTPError):
            assert refused.value.code == 431
            refused.value.close()
        with urllib.request.urlopen(f"{address}/") as answer:
            assert answer.status == 200


def test_half_a_request_keeps_nobody_waiting(tmp_path: Path) -> None:
    with served(tmp_path) as address:
        host, port = address.removeprefix("http://").split(":")
        idle = [socket.create_connection((host, int(port))) for _ in range(20)]
        for one in idle:
            one.sendall(b"POST /photos HTTP/1.1\r\nHost: localhost\r\nContent-Length: 999\r\n")
        with urllib.request.urlopen(f"{address}/", timeout=SILENT_S) as answer:
            assert answer.status == 200
        for one in idle:
            one.close()


def test_a_port_in_use_is_said_in_clear_words(tmp_path: Path) -> None:
    with listen(0, lan=False) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(LiveError, match=f"port {port} cannot be opened: it is in use"):
            listen(port, lan=False)
        result = run("serve", "--port", port, "--logbook", tmp_path / "season.logbook")
        assert result.exit_code == 1
        assert "error[live]" in result.stderr
        assert "--port" in result.stderr


def test_a_forbidden_port_is_said_in_clear_words(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(socket, "create_server", refuse)
    with pytest.raises(LiveError, match="may not be used") as told:
        listen(80, lan=False)
    assert told.value.hint in {hint for _, hint in WORDS.values()}


def test_another_jar_needs_its_own_reference(tmp_path: Path) -> None:
    missing = tmp_path / "clear.json"
    result = run("serve", "--reference", missing, "--logbook", tmp_path / "season.logbook")
    assert result.exit_code == 1
    assert "cannot read" in result.stderr


def test_the_worker_weighs_in_a_process_of_its_own() -> None:
    with one_worker() as executor:
        assert executor.submit(max, 1, 2).result(timeout=SILENT_S) == 2


def test_on_the_network_the_terminal_tells_what_that_means(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("greasecheck.live.access.origin.lan_addresses", lambda: ("192.168.1.5",))
    serve._print_address(8377, lan=True)
    serve._print_code("1234 5678")
    told = capsys.readouterr()
    assert "http://192.168.1.5:8377/" in told.out
    assert "only on a network you trust" in told.out
    assert "█" in told.out
    assert "1234 5678" in told.err


@pytest.mark.parametrize("options", [(), ("--lan",)])
def test_ctrl_c_ends_with_130_and_a_word(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, options: tuple[str, ...]
) -> None:
    asked = []

    @contextmanager
    def stopped_at_once(settings: LiveSettings, listener: socket.socket) -> Iterator[Server]:
        def run() -> None:
            raise KeyboardInterrupt

        asked.append(settings)
        yield Server(port=listener.getsockname()[1], run=run, stop=listener.close)
        listener.close()

    monkeypatch.setattr("greasecheck.live.server.serving", stopped_at_once)
    result = run("serve", "--port", 0, "--logbook", tmp_path / "deer.logbook", *options)
    assert result.exit_code == serve.INTERRUPTED
    assert "Ctrl-C stops" in result.stdout
    assert "what was logged is safe" in result.stderr
    [settings] = asked
    assert settings.photos == tmp_path / "deer.photos"
    assert not settings.waiting.exists()
    assert (settings.pairing is not None) is bool(options)
    assert ("pairing code" in result.stderr) is bool(options)


@pytest.mark.slow
@pytest.mark.parametrize("stop", [signal.SIGINT, signal.SIGTERM])
def test_the_command_serves_until_it_is_stopped(tmp_path: Path, stop: signal.Signals) -> None:
    options = ["serve", "--port", "0", "--logbook", str(tmp_path / "season.logbook")]
    process = subprocess.Popen(
        [sys.executable, "-m", "greasecheck", *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={"TMPDIR": str(tmp_path), "PATH": "/usr/bin", "PYTHONUNBUFFERED": "1"},
    )
    try:
        assert process.stdout is not None
        found = re.search(r"http://localhost:\d+/", process.stdout.readline())
        assert found
        with urllib.request.urlopen(found[0]) as answer:
            assert answer.status == 200
        assert (tmp_path / "season.waiting").is_dir()
        process.send_signal(stop)
        _, words = process.communicate(timeout=SILENT_S)
    finally:
        process.kill()
        process.communicate()
    assert process.returncode == serve.INTERRUPTED
    assert "what was logged is safe" in words
    assert "Traceback" not in words
    assert not (tmp_path / "season.waiting").exists()
