"""Photos: sent in, read and shown at once, then logged or thrown away."""

from __future__ import annotations

import logging
import os
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime
from functools import partial
from typing import TYPE_CHECKING

from flask import Response, redirect, render_template, request, url_for

from greasecheck.errors import GreasecheckError, LiveError, LogbookError
from greasecheck.live.access.forms import choice_in, number_in
from greasecheck.live.photos.keeping import log_photo, require_loggable
from greasecheck.live.photos.measuring import Measured, PhotoFacts
from greasecheck.live.photos.page import as_logged, photo_page
from greasecheck.live.photos.waiting import GoneError, Waiting, shown_name
from greasecheck.live.tubs.answering import garage_answers
from greasecheck.logbook.readings.drawings import drawn_of
from greasecheck.logbook.readings.readings import reading_under
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.table import LAST_TUB
from greasecheck.measure.reading import refused_reading
from greasecheck.model import BoneState, Stroke, Verdict
from greasecheck.words.typed_times import utc_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from concurrent.futures import Future

    from werkzeug.datastructures import FileStorage
    from werkzeug.wrappers import Response as AnyResponse

    from greasecheck.live.parts import Live
    from greasecheck.live.photos.waiting import Arrived
    from greasecheck.model import Drawn

MOST_FILES = 12
MAX_FILE_BYTES = 40_000_000
MOST_DILUTION = 1000.0
STATED = ("tub", "skull", "dilution", "taken")  # what a person states of a photo when it is logged
LONGEST_DRAWING, MOST_DRAWN = 100_000, 60  # letters and strokes of what a person draws on a photo


def show_photos(live: Live) -> str:
    """Show the photos that wait for a word, and what became of the last ones."""
    waiting = live.waiting.waiting()
    read = tuple(photo for photo in waiting if photo.measured)
    with Logbook(live.settings.logbook) as book:
        pages = [photo_page(book, photo) for photo in read]
        done = [photo_page(book, photo) for photo in live.waiting.done()]
        good = len(good_ones(book, read))
    unread = len(waiting) - len(read)
    return render_template("photos.html.j2", pages=pages, done=done, good=good, unread=unread)


def take_in(live: Live) -> AnyResponse:
    """Take in the photos that were sent, all or none, to be read one after another."""
    live.forms.check(request.form)
    files = [file for file in request.files.getlist("photo") if file.filename]
    _require_sendable(files)
    arrived: list[Arrived] = []
    with live.waiting.room(len(files)) as room:
        try:
            for file in files:
                name = shown_name(file.filename)
                arrived.append(live.waiting.store(file.stream, name, PhotoFacts(), room))
        except BaseException:
            live.waiting.forget(arrived)
            raise
    for one in arrived:
        if not one.known:
            _begin_reading(live, one.photo)
    if len(arrived) == 1:
        return redirect(url_for("photo", token=arrived[0].photo.token), 303)
    return redirect(url_for("photos"), 303)


def read_those_left(live: Live) -> None:
    """Read the photos that waited when the server before this one ended."""
    for photo in live.waiting.waiting():
        _begin_reading(live, photo)


def show_photo(live: Live, token: str) -> str:
    """Show a photo's reading, what can become of it, and once logged the answer of its tub."""
    photo = live.waiting.get(token)
    if photo.measured is None:
        return render_template("being_read.html.j2", photo=photo)
    with Logbook(live.settings.logbook) as book:
        page = photo_page(book, photo)
    answers = garage_answers(live) if page.logged and not page.logged.wrong else None
    answer = answers and next(
        (one for one in answers.tubs if page.logged and one.tub == page.logged.tub), None
    )
    return render_template("photo.html.j2", page=page, answer=answer, now=datetime.now(UTC))


def count_unread(live: Live) -> dict[str, int]:
    """Return for the page's script how many photos are still being read."""
    return {"left": sum(photo.measured is None for photo in live.waiting.waiting())}


def show_found(live: Live, token: str) -> Response:
    """Send the picture of what was found."""
    return Response(live.waiting.get(token).found.overlay, mimetype="image/jpeg")


def log(live: Live, token: str) -> AnyResponse:
    """Log a photo's reading, or keep the attempt when it is refused."""
    work = partial(_log, live, token, request.form)
    return redirect(live.forms.once(request.form, request.path, work), 303)


def log_good(live: Live) -> AnyResponse:
    """Log every photo that waits with a good reading which lacks nothing."""

    def work() -> str:
        with Logbook(live.settings.logbook) as book:
            read = [photo for photo in live.waiting.waiting() if photo.measured]
            photos = good_ones(book, read)
        for photo in photos:
            _log(live, photo.token, {})
        return url_for("photos")

    return redirect(live.forms.once(request.form, request.path, work), 303)


def good_ones(book: Logbook, photos: Sequence[Waiting]) -> tuple[Waiting, ...]:
    """Return those whose reading is good, and tells its tub and time."""
    readings = [(photo, as_logged(book, photo)) for photo in photos]
    return tuple(
        photo
        for photo, reading in readings
        if reading.verdict is Verdict.GOOD and None not in {reading.tub, reading.taken_at}
    )


def draw(live: Live, token: str) -> AnyResponse:
    """Read a photo again with what a person drew on it; nothing is logged yet."""

    def work() -> str:
        photo = live.waiting.get(token)
        if not photo.done:
            _with_facts(live, photo, replace(photo.facts, drawn=_drawn(request.form, photo)))
        return url_for("photo", token=token)

    return redirect(live.forms.once(request.form, request.path, work), 303)


def _drawn(form: Mapping[str, str], photo: Waiting) -> tuple[Drawn, ...]:
    """Return what was drawn before and now; nothing when a person starts anew."""
    if form.get("anew"):
        return ()
    text = form.get("drawn", "")
    too_much = LiveError("the drawing has too many strokes", hint="start anew with fewer")
    if len(text) > LONGEST_DRAWING:
        raise too_much
    drawn = (*photo.facts.drawn, *drawn_of(text))
    if len(drawn) > MOST_DRAWN or not all(map(_sound, drawn)):
        raise too_much
    return drawn


def _sound(one: Drawn) -> bool:
    fewest = 1 if one.stroke is Stroke.TAP else 3
    numbers = [number for point in one.points for number in point]
    return len(one.points) >= fewest and all(abs(number) < 1e5 for number in numbers)


def throw_away(live: Live, token: str) -> AnyResponse:
    """Forget a photo; nothing is written."""
    live.forms.check(request.form)
    live.waiting.throw_away(token)
    return redirect(url_for("photos" if live.waiting.waiting() else "today"), 303)


def _require_sendable(files: Sequence[FileStorage]) -> None:
    if not files:
        raise LiveError("no photo was chosen", hint="take one, or choose some from the phone")
    if len(files) > MOST_FILES:
        raise LiveError(
            f"{len(files)} photos are too many at a time", hint=f"send at most {MOST_FILES}"
        )
    most_mb = MAX_FILE_BYTES // 1_000_000
    for file in files:
        if file.stream.seek(0, os.SEEK_END) > MAX_FILE_BYTES:
            raise LiveError(
                f"the file {shown_name(file.filename)} is larger than {most_mb} MB",
                hint="take photos of 8 to 24 million pixels as JPEG or HEIC; none was taken in",
            )
        file.stream.seek(0)


def _begin_reading(live: Live, photo: Waiting) -> None:
    future = live.measurer.begin(photo.path, photo.facts)
    future.add_done_callback(partial(_take_reading, live, photo.token))


def _take_reading(live: Live, token: str, future: Future[Measured]) -> None:
    """Put what was found to the photo; one that could not be read is refused."""
    with suppress(GoneError):
        photo = live.waiting.get(token)
        fault = future.exception()
        found = future.result() if fault is None else _unreadable(photo, fault)
        known = _is_logged(live, photo)
        live.waiting.put(replace(photo, measured=found, done=known, logged_before=known))


def _is_logged(live: Live, photo: Waiting) -> bool:
    """Return whether the logbook holds a photo's reading, so that nothing is to be decided.

    A logbook that cannot be asked now is asked once more when the photo is logged.
    """
    try:
        with Logbook(live.settings.logbook) as book:
            logged = reading_under(book, photo.sha256)
    except LogbookError:
        return False
    return logged is not None and not logged.wrong


def _unreadable(photo: Waiting, fault: BaseException) -> Measured:
    if not isinstance(fault, GreasecheckError):
        logging.getLogger(__name__).error("cannot read %s", photo.name, exc_info=fault)
        fault = LiveError("it could not be read", hint="the terminal shows why")
    reading = refused_reading(photo.path, photo.sha256, fault)
    return Measured(reading=reading, overlay=b"", is_picture=False)


def _log(live: Live, token: str, form: Mapping[str, str]) -> str:
    photo = live.waiting.get(token)
    if photo.done and any(form.get(name) for name in STATED):
        raise LiveError(
            "this photo is in the logbook already, logged from another page",
            hint="correct its entry where that says otherwise",
        )
    if not photo.done:
        photo = _with_facts(live, photo, _facts_in(form, photo))
        require_loggable(photo)
        log_photo(live.settings.logbook, live.settings.photos, photo, form.get("skull") or None)
        live.waiting.put(replace(photo, done=True))
    return url_for("photo", token=token)


def _with_facts(live: Live, photo: Waiting, facts: PhotoFacts) -> Waiting:
    """Read a photo again when a person says other things of it than before."""
    if facts == photo.facts:
        return photo
    measured = live.measurer.measure(photo.path, facts)
    changed = replace(photo, facts=facts, measured=measured)
    live.waiting.update(changed)
    return changed


def _facts_in(form: Mapping[str, str], photo: Waiting) -> PhotoFacts:
    before = photo.facts
    tub = number_in(form, "tub", "tub", 0, LAST_TUB)
    if tub is not None and not tub.is_integer():
        raise LiveError("a tub has a whole number", hint="choose the tub again")
    return PhotoFacts(
        tub=before.tub if tub is None else int(tub),
        state=choice_in(form, "state", BoneState) or before.state,
        dilution=number_in(form, "dilution", "dilution", 1.0, MOST_DILUTION) or before.dilution,
        taken_at=_time_in(form, photo.arrived_at) or before.taken_at,
        drawn=before.drawn,
    )


def _time_in(form: Mapping[str, str], arrived_at: datetime) -> datetime | None:
    """Return when the photo was taken by what a person entered; None when nothing is stated."""
    stated = form.get("taken", "")
    if stated == "now":
        return arrived_at
    if stated != "at":
        return None
    try:
        return utc_of(datetime.fromisoformat(form.get("taken_at", "")))
    except (ValueError, OverflowError) as error:
        raise LiveError(
            "the time of the photo is missing", hint="fill in its day and time"
        ) from error
