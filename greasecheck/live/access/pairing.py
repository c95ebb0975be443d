"""Pairing on the local network: a code from the terminal, typed once, then a cookie."""

from __future__ import annotations

import hashlib
import hmac
import secrets
import threading
import time
from collections import OrderedDict
from typing import TYPE_CHECKING

from greasecheck.errors import LiveError

if TYPE_CHECKING:
    from collections.abc import Callable

CODE_DIGITS = 8
TRIES = 5
WAIT_S = 60.0
MOST_PAIRED = 20


class Pairing:
    """Knows the code and who has typed it; all in memory, gone with the server.

    After five wrong codes nobody can pair for a minute, and the code is another one.

    Parameters
    ----------
    announce : callable
        Told each new code, for the terminal.
    clock : callable
        Gives seconds that never run backwards [s].
    """

    def __init__(
        self, announce: Callable[[str], object], clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._announce = announce
        self._clock = clock
        self._lock = threading.Lock()
        self._paired: OrderedDict[bytes, None] = OrderedDict()
        self._wrong = 0
        self._closed_until = float("-inf")
        self._code = self._new_code()

    def pair(self, typed: str) -> str:
        """Return a new secret for the cookie of who typed the code.

        Raises
        ------
        LiveError
            When it is wrong, or too many wrong ones were typed.
        """
        with self._lock:
            self._refuse_while_closed()
            if not hmac.compare_digest(_digits(typed), self._code.encode()):
                raise self._count_wrong()
            self._wrong = 0
            secret = secrets.token_urlsafe(32)
            self._paired[_digest(secret)] = None
            while len(self._paired) > MOST_PAIRED:
                self._paired.popitem(last=False)
            return secret

    def knows(self, secret: str | None) -> bool:
        """Return whether a cookie's secret was given by `pair`."""
        return secret is not None and _digest(secret) in self._paired

    def _refuse_while_closed(self) -> None:
        wait_s = self._closed_until - self._clock()
        if wait_s > 0:
            raise LiveError(
                "too many wrong codes were typed",
                hint=f"wait {wait_s:.0f} seconds, then type the new code that the terminal shows",
            )

    def _count_wrong(self) -> LiveError:
        self._wrong += 1
        if self._wrong >= TRIES:
            self._wrong = 0
            self._closed_until = self._clock() + WAIT_S
            self._code = self._new_code()
        return LiveError("that is not the code", hint="type the code that the terminal shows now")

    def _new_code(self) -> str:
        code = "".join(secrets.choice("0123456789") for _ in range(CODE_DIGITS))
        self._announce(f"{code[:4]} {code[4:]}")
        return code


def _digits(typed: str) -> bytes:
    return "".join(letter for letter in typed if letter in "0123456789").encode()


def _digest(secret: str) -> bytes:
    """Return what is kept of a secret; to look it up tells nothing about it by its time."""
    return hashlib.sha256(secret.encode(errors="replace")).digest()
