"""Makes the live page: its addresses, who may ask, its headers, and its words when all fails."""

from __future__ import annotations

import secrets
from functools import partial
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from flask import Flask, g, redirect, render_template, request, url_for
from jinja2 import ChoiceLoader, PackageLoader, StrictUndefined
from markupsafe import Markup
from werkzeug.exceptions import Forbidden, HTTPException, MisdirectedRequest

from greasecheck.errors import GreasecheckError, LogbookError
from greasecheck.live import words
from greasecheck.live.access import pairing_views
from greasecheck.live.access.origin import is_own_name, is_own_page
from greasecheck.live.access.pairing import COOKIE
from greasecheck.live.parts import Live, make_live
from greasecheck.live.photos import views as photo_views
from greasecheck.live.photos.measuring import BusyError
from greasecheck.live.photos.waiting import FullError, GoneError
from greasecheck.live.tubs import entry_views, today_views, water_views
from greasecheck.logbook.store.times import to_text
from greasecheck.report.charts.style import variables

if TYPE_CHECKING:
    from collections.abc import Callable

    from flask import Response
    from flask.typing import ResponseReturnValue
    from werkzeug.wrappers import Response as AnyResponse

    from greasecheck.live.parts import LiveSettings

MAX_UPLOAD_BYTES = 200_000_000
MAX_TEXT_BYTES = 100_000
MAX_PARTS = 60
MOST_NUMBER = 2**53  # well within SQLite's integers
SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
POLICY = (
    "default-src 'none'; img-src 'self' data:; style-src 'nonce-{nonce}'; "
    "script-src 'nonce-{nonce}'; connect-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    # Unlike no-referrer, this leaves the Origin in our own forms' posts (Fetch, section 3.2.5).
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}
STATUS = {BusyError: 503, FullError: 409, GoneError: 404, LogbookError: 409}


def make_app(settings: LiveSettings) -> Flask:
    """Return the live page as a WSGI application.

    Parameters
    ----------
    settings : LiveSettings
        What it serves, and to whom.
    """
    app, live = Flask("greasecheck.live", static_folder=None), make_live(settings)
    app.config.update(
        MAX_CONTENT_LENGTH=MAX_UPLOAD_BYTES,
        MAX_FORM_MEMORY_SIZE=MAX_TEXT_BYTES,
        MAX_FORM_PARTS=MAX_PARTS,
    )
    app.extensions["greasecheck"] = live
    _set_up_templates(app, live)
    _add_addresses(app, live)
    app.before_request(partial(_guard, live))
    app.after_request(_secure)
    app.teardown_request(lambda _: request.close())
    app.register_error_handler(GreasecheckError, _foreseen)
    app.register_error_handler(HTTPException, _refused)
    return app


def _add_addresses(app: Flask, live: Live) -> None:
    number = f"<int(max={MOST_NUMBER}):number>"

    def add(
        rule: str, name: str, view: Callable[..., ResponseReturnValue], method: str = "GET"
    ) -> None:
        app.add_url_rule(rule, name, partial(view, live), methods=[method])

    add("/", "today", today_views.show_today)
    add("/weighed", "weighed", today_views.tell_weighed)
    add("/photos", "photos", photo_views.show_photos)
    add("/photos", "send", photo_views.take_in, "POST")
    add("/photos/unread", "unread", photo_views.tell_unread)
    add("/photos/log-good", "log_good", photo_views.log_good, "POST")
    add("/photos/<token>", "photo", photo_views.show_photo)
    add("/photos/<token>/found.jpg", "found", photo_views.show_found)
    add("/photos/<token>/log", "log", photo_views.log, "POST")
    add("/photos/<token>/throw-away", "throw_away", photo_views.throw_away, "POST")
    add(f"/tubs/{number}/changed", "changed", water_views.enter_change, "POST")
    add(f"/tubs/{number}/probable", "probable", water_views.settle_probable, "POST")
    add(f"/entries/{number}", "entry", entry_views.show_entry)
    add(f"/entries/{number}/undo", "undo", entry_views.take_back, "POST")
    if live.settings.pairing is not None:
        add("/pair", "pair", pairing_views.show_form)
        add("/pair", "try_code", pairing_views.try_code, "POST")


def _set_up_templates(app: Flask, live: Live) -> None:
    app.jinja_options = {"trim_blocks": True, "lstrip_blocks": True, "undefined": StrictUndefined}
    app.jinja_loader = ChoiceLoader(
        [PackageLoader("greasecheck.live"), PackageLoader("greasecheck.report")]
    )
    app.jinja_env.autoescape = True
    app.jinja_env.filters.update(moment=words.moment, stored=to_text)
    app.context_processor(
        lambda: {
            "colours": lambda dark: Markup(variables(dark=dark)),
            "nonce": g.nonce,
            "form_token": live.forms.issue,
            "waiting_count": len(live.waiting.waiting()),
        }
    )


def _guard(live: Live) -> AnyResponse | None:
    """Answer nothing to other names, other pages, and those who are not paired."""
    g.nonce, g.let_in = secrets.token_urlsafe(16), False
    if not is_own_name(request.host, live.settings.names):
        raise MisdirectedRequest
    if request.method not in SAFE_METHODS and not is_own_page(request.headers, request.host):
        raise Forbidden
    pairing = live.settings.pairing
    if pairing is None or pairing.knows(request.cookies.get(COOKIE)):
        g.let_in = True
        return None
    request.max_content_length = MAX_TEXT_BYTES
    if request.endpoint in {"pair", "try_code"}:
        return None
    if request.method == "GET":
        return redirect(url_for("pair"), 303)
    raise Forbidden


def _secure(response: Response) -> Response:
    response.headers.update(HEADERS)
    response.headers["Content-Security-Policy"] = POLICY.format(nonce=g.nonce)
    return response


def _foreseen(error: GreasecheckError) -> tuple[str, int]:
    status = next((code for kind, code in STATUS.items() if isinstance(error, kind)), 400)
    return _message(f"{error.problem[:1].upper()}{error.problem[1:]}.", error.hint), status


def _refused(error: HTTPException) -> tuple[str, int]:
    """Say an HTTP fault in words; that of a bug stands with its traceback on the terminal."""
    problem, hint = words.HTTP_FAULTS.get(error.code or 500, words.OTHER_FAULT)
    return _message(problem, hint), error.code or 500


def _message(problem: str, hint: str) -> str:
    return render_template("message.html.j2", problem=problem, hint=hint, back=_came_from())


def _came_from() -> str | None:
    """Return the page of ours that the request came from, for the way back to its form."""
    page = urlsplit(request.referrer or "")
    return page.path if g.let_in and page.netloc == request.host and page.path else None
