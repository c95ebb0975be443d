"""What every form that enters something does: once, whole, and back to the page it came from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import redirect, request

from greasecheck.live.fields import back_to
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.undo import newest_entry

if TYPE_CHECKING:
    from collections.abc import Callable

    from werkzeug.wrappers import Response

    from greasecheck.live.parts import Live


def enter_once(live: Live, enter: Callable[[Logbook], object], home: str) -> Response:
    """Carry out the entry of a form unless it was, and go back with the number of the entry.

    Parameters
    ----------
    live : Live
        The page.
    enter : callable
        Writes the entry into the open logbook.
    home : str
        Address to go to where the form names none.
    """
    with Logbook(live.settings.logbook) as book:

        def work() -> str:
            enter(book)
            return back_to(home, newest_entry(book))

        return redirect(live.forms.once(request.form, request.path, work), 303)
