"""Forms: each is carried out once, only from a page of this server, and its fields are checked."""

from __future__ import annotations

import hashlib
import hmac
import math
import secrets
import threading
from collections import OrderedDict
from typing import TYPE_CHECKING, TypeVar

from greasecheck.errors import LiveError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from enum import StrEnum

    from werkzeug.datastructures import MultiDict

    Choice = TypeVar("Choice", bound=StrEnum)

FIELD = "form_token"
MOST_REMEMBERED = 1000


class Forms:
    """Gives out tokens for forms, and remembers what those did that came back."""

    def __init__(self) -> None:
        self._key = secrets.token_bytes(32)
        self._answers: OrderedDict[tuple[str, str], str] = OrderedDict()
        self._lock = threading.Lock()

    def issue(self) -> str:
        """Return a token for the forms of one page."""
        nonce = secrets.token_urlsafe(12)
        return f"{nonce}.{self._signature(nonce)}"

    def check(self, form: Mapping[str, str]) -> str:
        """Return a form's token.

        Raises
        ------
        LiveError
            When it has none of this server.
        """
        token = form.get(FIELD, "")
        nonce, _, signature = token.partition(".")
        if not hmac.compare_digest(signature.encode(), self._signature(nonce).encode()):
            raise LiveError(
                "this page was made before the server was started anew",
                hint="go back to today's list and try again",
            )
        return token

    def once(self, form: MultiDict[str, str], action: str, work: Callable[[], str]) -> str:
        """Carry out a form unless it was, and return the address of the answer.

        Forms are carried out one after another; a second tap, which sends the same fields, gets
        the answer of the first.

        Parameters
        ----------
        form : werkzeug.datastructures.MultiDict
            Its fields.
        action : str
            What it asks for, such as the address it was sent to.
        work : callable
            Does it, and returns the address of the answer.

        Raises
        ------
        LiveError
            When the form is not of this server.
        """
        key = self._sent(form, action)
        with self._lock:
            if key not in self._answers:
                self._answers[key] = work()
            while len(self._answers) > MOST_REMEMBERED:
                self._answers.popitem(last=False)
            return self._answers[key]

    def answer(self, form: MultiDict[str, str], action: str) -> str | None:
        """Return the address of the answer to a form that was carried out; None for a new one."""
        return self._answers.get(self._sent(form, action))

    def _sent(self, form: MultiDict[str, str], action: str) -> tuple[str, str]:
        """Return an action with the digest of all fields that were sent for it."""
        self.check(form)
        fields = repr(sorted(form.lists())).encode()
        return action, hashlib.sha256(fields).hexdigest()

    def _signature(self, nonce: str) -> str:
        return hmac.new(self._key, nonce.encode(errors="replace"), hashlib.sha256).hexdigest()


def number_in(
    form: Mapping[str, str], name: str, what: str, lowest: float, highest: float
) -> float | None:
    """Return a number that was typed into a field; None when it was left blank.

    Raises
    ------
    LiveError
        When it is no number, or out of range.

    Examples
    --------
    >>> number_in({"left": " 0,25 "}, "left", "share", 0.0, 1.0)
    0.25
    """
    text = form.get(name, "").strip().replace(",", ".")
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not lowest <= value <= highest:
        raise LiveError(
            f"the {what} '{text[:20]}' makes no sense",
            hint=f"type a number from {lowest:.15g} to {highest:.15g}, or leave it blank",
        )
    return value


def choice_in(form: Mapping[str, str], name: str, kinds: type[Choice]) -> Choice | None:
    """Return what was chosen in a field; None when nothing was.

    Raises
    ------
    LiveError
        When it is none of the choices.
    """
    text = form.get(name, "")
    if not text:
        return None
    try:
        return kinds(text)
    except ValueError as error:
        raise LiveError(
            f"'{text[:20]}' cannot be chosen", hint=f"choose one of: {', '.join(kinds)}"
        ) from error
