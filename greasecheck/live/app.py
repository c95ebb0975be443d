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
from greasecheck.live.access import pairing_views
from greasecheck.live.access.origin import is_own_name, is_own_page
from greasecheck.live.access.pairing import COOKIE, UnpairedError
from greasecheck.live.entries import entry_views, reading_views
from greasecheck.live.more_views import show_more
from greasecheck.live.parts import Live, make_live
from greasecheck.live.photos import views as photo_views
from greasecheck.live.photos.measuring import BusyError
from greasecheck.live.photos.waiting import FullError, GoneError
from greasecheck.live.setup import print_views, setup_views, standard_views
from greasecheck.live.shown import made_entry, words_for_pages
from greasecheck.live.skulls import event_views, skull_views
from greasecheck.live.tubs import between_views, fact_views, home_views, tub_views, water_views
from greasecheck.logbook.store.times import to_text
from greasecheck.report.charts.style import variables
from greasecheck.words import faults, times

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
NUMBER = f"<int(max={MOST_NUMBER}):number>"
# Address, name, view, and the method where it is not GET.
TUBS = (
    ("/", "today", home_views.show_home),
    ("/weighed", "weighed", home_views.count_unweighed),
    ("/more", "more", show_more),
    ("/changes", "changes", home_views.show_changes),
    ("/changes", "enter_changes", water_views.enter_changes, "POST"),
    ("/tubs", "add_tub", fact_views.add_tub, "POST"),
    (f"/tubs/{NUMBER}", "tub", tub_views.show_tub),
    (f"/tubs/{NUMBER}/photo.jpg", "tub_photo", tub_views.show_tub_photo),
    (f"/tubs/{NUMBER}/changed", "changed", water_views.enter_change, "POST"),
    (f"/tubs/{NUMBER}/probable", "probable", water_views.settle_probable, "POST"),
    (f"/tubs/{NUMBER}/emptied", "emptied", water_views.enter_emptying, "POST"),
    (f"/tubs/{NUMBER}/temperature", "warmth", between_views.enter_warmth, "POST"),
    (f"/tubs/{NUMBER}/topped-up", "topped_up", between_views.enter_topped_up, "POST"),
    (f"/tubs/{NUMBER}/bath", "correct_bath", water_views.correct_bath, "POST"),
    (f"/tubs/{NUMBER}/facts", "tub_facts", fact_views.enter_facts, "POST"),
    (f"/tubs/{NUMBER}/checked", "checked", fact_views.enter_checked, "POST"),
    (f"/tubs/{NUMBER}/number", "renumber", fact_views.renumber, "POST"),
    (f"/tubs/{NUMBER}/reading", "enter_reading", fact_views.enter_reading, "POST"),
    (f"/tubs/{NUMBER}/readings", "readings", reading_views.show_readings),
    (f"/tubs/{NUMBER}/correction", "correct_reading", reading_views.correct_reading, "POST"),
    (f"/tubs/{NUMBER}/shift", "shift_times", reading_views.shift_times, "POST"),
)
PHOTOS = (
    ("/photos", "photos", photo_views.show_photos),
    ("/photos", "send", photo_views.take_in, "POST"),
    ("/photos/unread", "unread", photo_views.count_unread),
    ("/photos/log-good", "log_good", photo_views.log_good, "POST"),
    ("/photos/<token>", "photo", photo_views.show_photo),
    ("/photos/<token>/found.jpg", "found", photo_views.show_found),
    ("/photos/<token>/log", "log", photo_views.log, "POST"),
    ("/photos/<token>/draw", "draw", photo_views.draw, "POST"),
    ("/photos/<token>/throw-away", "throw_away", photo_views.throw_away, "POST"),
)
SKULLS = (
    ("/skulls", "skulls", skull_views.show_skulls),
    ("/skulls", "add_skull", skull_views.add_skull, "POST"),
    ("/skull", "skull", skull_views.show_skull),
    ("/skull/strip.png", "strip", skull_views.show_strip),
    ("/skull/happened", "happened", event_views.enter_happening, "POST"),
    ("/skull/looked", "looked", event_views.enter_look, "POST"),
    ("/skull/name", "rename", skull_views.rename, "POST"),
    ("/skull/promise", "promise", event_views.promise, "POST"),
    ("/promises", "promises", event_views.show_promises),
)
ENTRIES = (
    ("/entries", "entries", entry_views.show_entries),
    (f"/entries/{NUMBER}", "entry", entry_views.show_entry),
    (f"/entries/{NUMBER}/undo", "undo", entry_views.undo_entry, "POST"),
)
SETUP = (
    ("/setup", "setup", setup_views.show_setup),
    ("/setup/choice", "choose", setup_views.choose, "POST"),
    ("/setup/tub", "add_filled_tub", setup_views.add_filled_tub, "POST"),
    ("/setup/stand", "look_at_stand", standard_views.look_at_stand, "POST"),
    ("/setup/clear", "clear_water", standard_views.take_clear_water, "POST"),
    ("/setup/turbidity", "turbidity_series", standard_views.take_series, "POST"),
    ("/setup/sheet.pdf", "sheet_pdf", print_views.send_sheet),
    ("/setup/cards.pdf", "cards_pdf", print_views.send_cards),
    ("/setup/ladders.pdf", "ladders_pdf", print_views.send_ladders),
    ("/setup/tags.pdf", "tags_pdf", print_views.send_tags),
)
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
    app.register_error_handler(UnpairedError, _unpaired)
    app.register_error_handler(HTTPException, _refused)
    return app


def _add_addresses(app: Flask, live: Live) -> None:
    def add(
        rule: str, name: str, view: Callable[..., ResponseReturnValue], method: str = "GET"
    ) -> None:
        app.add_url_rule(rule, name, partial(view, live), methods=[method])

    for one in (*TUBS, *PHOTOS, *SKULLS, *ENTRIES, *SETUP):
        add(*one)
    if live.settings.pairing is not None:
        add("/pair", "pair", pairing_views.show_form)
        add("/pair", "try_code", pairing_views.try_code, "POST")


def _set_up_templates(app: Flask, live: Live) -> None:
    app.jinja_options = {"trim_blocks": True, "lstrip_blocks": True, "undefined": StrictUndefined}
    app.jinja_loader = ChoiceLoader(
        [PackageLoader("greasecheck.live"), PackageLoader("greasecheck.report")]
    )
    app.jinja_env.autoescape = True
    app.jinja_env.filters.update(moment=times.moment, stored=to_text, **words_for_pages.filters)
    app.jinja_env.globals.update(words_for_pages.globals)
    app.context_processor(
        lambda: {
            "colours": lambda dark: Markup(variables(dark=dark)),
            "nonce": g.nonce,
            "form_token": live.forms.issue,
            "waiting_count": len(live.waiting.waiting()),
            "made_entry": partial(made_entry, live),
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
    raise UnpairedError(
        "this phone is not paired any more; nothing was written",
        hint="type the code that the terminal shows, then enter it again",
    )


def _secure(response: Response) -> Response:
    response.headers.update(HEADERS)
    response.headers["Content-Security-Policy"] = POLICY.format(nonce=g.nonce)
    return response


def _foreseen(error: GreasecheckError) -> tuple[str, int]:
    status = next((code for kind, code in STATUS.items() if isinstance(error, kind)), 400)
    return _message(_sentence(error.problem), error.hint, _came_from()), status


def _unpaired(error: UnpairedError) -> tuple[str, int]:
    return _message(_sentence(error.problem), error.hint, url_for("pair")), 403


def _refused(error: HTTPException) -> tuple[str, int]:
    """Say an HTTP fault in words; that of a bug stands with its traceback on the terminal."""
    problem, hint = faults.HTTP_FAULTS.get(error.code or 500, faults.OTHER_FAULT)
    return _message(problem, hint, _came_from()), error.code or 500


def _sentence(problem: str) -> str:
    return f"{problem[:1].upper()}{problem[1:]}."


def _message(problem: str, hint: str, back: str | None) -> str:
    return render_template("message.html.j2", problem=problem, hint=hint, back=back)


def _came_from() -> str | None:
    """Return the page of ours that the request came from, for the way back to its form."""
    page = urlsplit(request.referrer or "")
    return page.path if g.let_in and page.netloc == request.host and page.path else None
