"""The only page for those who are not paired: it takes the code."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import redirect, render_template, request, url_for

from greasecheck.errors import LiveError
from greasecheck.live.access.pairing import COOKIE

if TYPE_CHECKING:
    from werkzeug.wrappers import Response

    from greasecheck.live.parts import Live

COOKIE_S = 7 * 24 * 3600


def show_form(live: Live) -> str:
    """Ask for the code."""
    return _form(live, "", "")


def try_code(live: Live) -> Response | tuple[str, int]:
    """Let in who knows the code."""
    assert live.settings.pairing is not None
    try:
        live.forms.check(request.form)
        secret = live.settings.pairing.pair(request.form.get("code", ""), request.remote_addr or "")
    except LiveError as error:
        return _form(live, error.problem, error.hint), 403
    answer = redirect(url_for("today"), 303)
    answer.set_cookie(COOKIE, secret, max_age=COOKIE_S, httponly=True, samesite="Strict")
    return answer


def _form(live: Live, problem: str, hint: str) -> str:
    assert live.settings.pairing is not None
    return render_template("pair.html.j2", problem=problem, hint=hint)
