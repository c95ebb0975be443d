"""A tub on its page: the answer, why, its picture, its curve, its skulls, its buttons."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from flask import Response, render_template, send_file

from greasecheck.errors import LiveError, LogbookError
from greasecheck.garage.ladder.eye import bars_by_eye
from greasecheck.garage.skull_stages import skull_lives
from greasecheck.live.entries.lines import EntryLine, entries_of_tub
from greasecheck.live.tubs.answering import garage_answers
from greasecheck.logbook.readings.readings import list_readings
from greasecheck.logbook.skulls.skulls import list_skulls
from greasecheck.logbook.store.book import Logbook
from greasecheck.model import Recipe
from greasecheck.predict.tables import known_species

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.answers import TubAnswer
    from greasecheck.garage.milestones import SkullLife
    from greasecheck.live.parts import Live
    from greasecheck.live.tubs.curves import Curve
    from greasecheck.live.tubs.weighing import Weighed
    from greasecheck.logbook.records import LoggedReading
    from greasecheck.logbook.today import TubToday

MOST_ENTRIES = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class TubPage:
    """A tub on its page; `weighed` is None while it is being worked out."""

    today: TubToday
    answer: TubAnswer
    weighed: Weighed | None
    skulls: tuple[SkullLife, ...]
    photo: LoggedReading | None
    entries: tuple[EntryLine, ...]

    @property
    def charts(self) -> tuple[Curve, ...]:
        """Return the curves of the tub."""
        return self.weighed.charts if self.weighed else ()


def show_tub(live: Live, number: int) -> str:
    """Show a tub."""
    answers = garage_answers(live)
    if number not in answers.today:
        raise LogbookError(f"there is no tub {number}", hint="go back to today's list")
    today = answers.today[number]
    with Logbook(live.settings.logbook) as book:
        inside = [skull for skull in list_skulls(book) if skull.name in today.skulls]
        page = TubPage(
            today=today,
            answer=next(answer for answer in answers.tubs if answer.tub == number),
            weighed=answers.known.get(number),
            skulls=skull_lives(book, inside, {}, answers.now),
            photo=shown_photo(live, list_readings(book, number)),
            entries=entries_of_tub(book, number)[:MOST_ENTRIES],
        )
    return render_template(
        "tub.html.j2",
        page=page,
        now=answers.now,
        recipes=tuple(Recipe),
        species=known_species(),
        bars=bars_by_eye(),
    )


def newest_photo(readings: tuple[LoggedReading, ...]) -> LoggedReading | None:
    """Return the newest reading whose photo was kept; None without one."""
    return next((one for one in reversed(readings) if one.photo_path), None)


def shown_photo(live: Live, readings: tuple[LoggedReading, ...]) -> LoggedReading | None:
    """Return the newest reading with a photo, if that can be shown; None otherwise."""
    found = newest_photo(readings)
    file = kept_file(live.settings.photos, found.photo_path or "") if found else None
    return found if file else None


def show_tub_photo(live: Live, number: int) -> Response:
    """Send the newest photo of a tub, if it lies in the folder of logged photos."""
    with Logbook(live.settings.logbook) as book:
        found = newest_photo(list_readings(book, number))
    file = kept_file(live.settings.photos, found.photo_path or "") if found else None
    if file is None:
        raise LiveError("there is no photo of this tub", hint="take one")
    return send_file(file, mimetype="image/jpeg", max_age=0)


def kept_file(folder: Path, path: str) -> Path | None:
    """Return the file of a logged photo when it is one that this page kept; None otherwise.

    A logbook may come from elsewhere, and must not make the page send any file of this computer.
    """
    file = folder.absolute() / path.replace("\\", "/").rpartition("/")[2]
    inside = file.parent == folder.absolute() and file.suffix == ".jpg" and not file.is_symlink()
    return file if inside and file.is_file() else None
