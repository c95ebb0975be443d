"""The live page under strangers: many requests, dripping connections, large bodies, a kill.

    python -m tests.benchmarks.live_strangers [seconds] [requests a second]

All on this computer's loopback, for a bounded time. Strangers are not paired; a paired phone
meanwhile asks for today's list and sends a photo. Then the server is killed while photos wait.
"""

from __future__ import annotations

import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import ExitStack, suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from http.client import HTTPConnection
from pathlib import Path
from statistics import median

from tests.unit.live.phones import TUB12, begin_season

PER_S, SPAN_S, DRIPPING, BODIES = 500, 30.0, 60, 40
MOST_S = 60.0
TOKEN = re.compile(r'name="form_token" value="([^"]+)"')


@dataclass
class Served:
    """A live page in a process of its own, and its pairing code."""

    process: subprocess.Popen[str]
    port: int
    code: str

    def kill(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        self.process.communicate()


@dataclass
class Flood:
    """Strangers that ask at a steady rate until they are told to stop."""

    port: int
    per_s: int
    asked: int = 0
    codes: dict[str, int] = field(default_factory=dict)
    over: threading.Event = field(default_factory=threading.Event)

    def run(self, threads: int = 10) -> list[threading.Thread]:
        running = [threading.Thread(target=self._ask, args=(threads,)) for _ in range(threads)]
        for one in running:
            one.start()
        return running

    def _ask(self, threads: int) -> None:
        due = time.monotonic()
        while not self.over.is_set():
            due += threads / self.per_s
            time.sleep(max(0.0, due - time.monotonic()))
            code = _first_line(self.port, b"GET /pair HTTP/1.1\r\nHost: localhost\r\n\r\n")
            self.asked += 1
            self.codes[code] = self.codes.get(code, 0) + 1


class Phone:
    """A paired phone: asks for pages and sends photos by form."""

    def __init__(self, port: int) -> None:
        self._port = port
        self._cookie = ""

    def pair(self, code: str) -> None:
        token = self._token("/pair")
        self._post("/pair", f"form_token={token}&code={code}".encode(), FORM)

    def today_s(self) -> float:
        begun = time.monotonic()
        assert "Today" in self.get("/")
        return time.monotonic() - begun

    def send(self, content: bytes) -> str:
        edge = "greasecheck-edge"
        parts = [
            f'--{edge}\r\nContent-Disposition: form-data; name="form_token"\r\n\r\n'
            f"{self._token('/photos')}\r\n".encode(),
            f'--{edge}\r\nContent-Disposition: form-data; name="photo"; filename="a.jpg"\r\n'
            "Content-Type: image/jpeg\r\n\r\n".encode(),
            content,
            f"\r\n--{edge}--\r\n".encode(),
        ]
        return self._post("/photos", b"".join(parts), f"multipart/form-data; boundary={edge}")

    def read_s(self, content: bytes) -> float:
        """Send a photo and wait until its reading is shown."""
        begun = time.monotonic()
        page = self.send(content)
        while "being read" in self.get(page):
            time.sleep(0.1)
            assert time.monotonic() < begun + MOST_S
        return time.monotonic() - begun

    def get(self, path: str) -> str:
        return self._ask("GET", path, None, {})[1]

    def _token(self, path: str) -> str:
        found = TOKEN.search(self.get(path))
        assert found, "the page has a form"
        return found[1]

    def _post(self, path: str, body: bytes, kind: str) -> str:
        headers = {"Content-Type": kind, "Origin": f"http://localhost:{self._port}"}
        return self._ask("POST", path, body, headers)[0]

    def _ask(
        self, method: str, path: str, body: bytes | None, headers: dict[str, str]
    ) -> tuple[str, str]:
        connection = HTTPConnection("127.0.0.1", self._port, timeout=MOST_S)
        own = {"Host": f"localhost:{self._port}", "Cookie": self._cookie, **headers}
        connection.request(method, path, body, own)
        answer = connection.getresponse()
        text = answer.read().decode(errors="replace")
        given = answer.headers["Set-Cookie"]
        if given:
            self._cookie = given.split(";")[0]
        connection.close()
        assert answer.status < 400, (answer.status, text[:500])
        return answer.headers["Location"] or "", text


FORM = "application/x-www-form-urlencoded"


def serve(logbook: Path) -> Served:
    """Begin a live page for phones, on the loopback's port that is free."""
    command = [sys.executable, "-m", "greasecheck", "serve", "--lan", "--port", "0"]
    process = subprocess.Popen(
        [*command, "--logbook", str(logbook)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        bufsize=1,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    code = process.stderr.readline().split(":")[1].strip()
    for line in process.stdout:
        found = re.search(r":(\d+)/", line)
        if found:
            return Served(process, int(found[1]), code)
    raise AssertionError("the page did not begin")


def _first_line(port: int, request: bytes) -> str:
    try:
        with socket.create_connection(("127.0.0.1", port), timeout=MOST_S) as one:
            one.sendall(request)
            return one.recv(100).split(b"\r\n")[0].decode()[9:12] or "closed"
    except OSError:
        return "closed"


def drip(port: int, stack: ExitStack, over: threading.Event) -> threading.Thread:
    """Hold connections whose header comes letter by letter."""
    held = []
    for _ in range(DRIPPING):
        one = stack.enter_context(socket.create_connection(("127.0.0.1", port)))
        one.sendall(b"GET /pair HTTP/1.1\r\nX-Slow: ")
        held.append(one)

    def drop() -> None:
        while not over.wait(1.0):
            for one in held:
                with suppress(OSError):
                    one.sendall(b"x")

    thread = threading.Thread(target=drop)
    thread.start()
    return thread


def large_bodies(port: int) -> int:
    """Send the headers of large bodies of strangers; return how many were refused at once."""
    head = b"POST /photos HTTP/1.1\r\nHost: localhost\r\nContent-Length: 200000000\r\n\r\n"
    return sum(_first_line(port, head) == "413" for _ in range(BODIES))


def under_strangers(folder: Path, span_s: float, per_s: int) -> None:
    """Print how long a paired phone waits while strangers do their worst."""
    logbook = folder / "season.logbook"
    begin_season(logbook, datetime.now(UTC) - timedelta(days=5))
    served, phone = serve(logbook), None
    try:
        phone = Phone(served.port)
        phone.pair(served.code)
        calm_s = phone.read_s(TUB12.read_bytes())
        print(f"alone: photo {calm_s:.2f} s, today {phone.today_s():.2f} s")
        print(f"{large_bodies(served.port)} of {BODIES} bodies of 200 MB refused by their header")
        with ExitStack() as stack:
            flood = Flood(served.port, per_s)
            dripping = drip(served.port, stack, flood.over)
            running, begun = flood.run(), time.monotonic()
            read_s = phone.read_s(TUB12.read_bytes() + b"\0")
            today_s = []
            while time.monotonic() < begun + span_s:
                today_s.append(phone.today_s())
                time.sleep(0.5)
            flood.over.set()
            for one in (*running, dripping):
                one.join()
        rate = flood.asked / (time.monotonic() - begun)
        print(f"under {rate:.0f} requests a second and {DRIPPING} dripping: photo {read_s:.2f} s,")
        print(f"  today {median(today_s):.2f} s, at worst {max(today_s):.2f} s; {flood.codes}")
        seven_uploads(phone)
    finally:
        served.kill()
    after_the_kill(logbook)


def seven_uploads(phone: Phone) -> None:
    """Print how long today's list takes while seven uploads of four photos are read."""
    for number in range(28 - 2):
        phone.send(TUB12.read_bytes() + b"\1" * (number + 1))
    waits = [phone.today_s() for _ in range(10)]
    print(f"while {phone.get('/photos/unread')} photos are unread: today {max(waits):.2f} s")


def after_the_kill(logbook: Path) -> None:
    """Print what is there after a kill -9, and after the next start."""
    waiting = logbook.with_suffix(".waiting")
    left = [place for place in waiting.iterdir() if not place.name.startswith(".")]
    served = serve(logbook)
    try:
        drafts = [place for place in waiting.iterdir() if place.name.startswith(".")]
        print(f"after kill -9: {len(left)} photos wait; drafts after the next start: {len(drafts)}")
        temporary = list(Path(tempfile.gettempdir()).glob("greasecheck-*"))
        print(f"left behind in the system's folder: {len(temporary)}")
    finally:
        served.kill()


def main() -> None:
    """Run it."""
    span_s = float(sys.argv[1]) if len(sys.argv) > 1 else SPAN_S
    per_s = int(sys.argv[2]) if len(sys.argv) > 2 else PER_S
    folder = Path(tempfile.mkdtemp())
    try:
        under_strangers(folder, min(span_s, 120.0), min(per_s, 1000))
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    main()
