"""Pairing on the local network: a code from the terminal, typed once, then a cookie."""

from __future__ import annotations

import hashlib
import hmac
import secrets
import threading
import time
from collections import OrderedDict
from typing import TYPE_CHECKING, TypeVar

from greasecheck.errors import LiveError

if TYPE_CHECKING:
    from collections.abc import Callable

Number = TypeVar("Number", int, float)
COOKIE = "greasecheck_paired"
CODE_DIGITS = 8
TRIES = 5
WAIT_S = 60.0
TRIES_OF_ALL = 1000  # then the code is another one: 1 in 100,000 that it was guessed
MOST_PAIRED = 20
MOST_ADDRESSES = 1000


class UnpairedError(LiveError):
    """A phone that is not paired, or was so before a restart, sends something."""


class Pairing:
    """Knows the code and who has typed it; all in memory, gone with the server.

    After five wrong codes an address cannot pair for a minute; others still can, by the same code.

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
        self._wrong: OrderedDict[str, int] = OrderedDict()
        self._closed_until: OrderedDict[str, float] = OrderedDict()
        self._wrong_of_all = 0
        self._code = self._new_code()

    def pair(self, typed: str, address: str) -> str:
        """Return a new secret for the cookie of who typed the code.

        Parameters
        ----------
        typed : str
            What was typed.
        address : str
            Where it comes from.

        Raises
        ------
        LiveError
            When it is wrong, or too many wrong ones came from there.
        """
        with self._lock:
            self._refuse_while_closed(address)
            if not hmac.compare_digest(_digits(typed), self._code.encode()):
                raise self._count_wrong(address)
            self._wrong.pop(address, None)
            secret = secrets.token_urlsafe(32)
            self._paired[_digest(secret)] = None
            while len(self._paired) > MOST_PAIRED:
                self._paired.popitem(last=False)
            return secret

    def knows(self, secret: str | None) -> bool:
        """Return whether a cookie's secret was given by `pair`."""
        return secret is not None and _digest(secret) in self._paired

    def _refuse_while_closed(self, address: str) -> None:
        wait_s = self._closed_until.get(address, float("-inf")) - self._clock()
        if wait_s > 0:
            raise LiveError(
                "too many wrong codes were typed here",
                hint=f"wait {wait_s:.0f} seconds, then type the code that the terminal shows",
            )

    def _count_wrong(self, address: str) -> LiveError:
        self._wrong_of_all += 1
        if self._wrong_of_all >= TRIES_OF_ALL:
            self._wrong_of_all, self._code = 0, self._new_code()
        wrong = self._wrong.pop(address, 0) + 1
        if wrong >= TRIES:
            _remember(self._closed_until, address, self._clock() + WAIT_S)
        else:
            _remember(self._wrong, address, wrong)
        return LiveError("that is not the code", hint="type the code that the terminal shows now")

    def _new_code(self) -> str:
        code = "".join(secrets.choice("0123456789") for _ in range(CODE_DIGITS))
        self._announce(f"{code[:4]} {code[4:]}")
        return code


def _remember(known: OrderedDict[str, Number], address: str, value: Number) -> None:
    """Keep a value of an address, and forget the oldest of too many."""
    known.pop(address, None)
    known[address] = value
    while len(known) > MOST_ADDRESSES:
        known.popitem(last=False)


def _digits(typed: str) -> bytes:
    return "".join(letter for letter in typed if letter in "0123456789").encode()


def _digest(secret: str) -> bytes:
    """Return what is kept of a secret; to look it up tells nothing about it by its time."""
    return hashlib.sha256(secret.encode(errors="replace")).digest()
