"""A tub on its page: the answer, why, its picture, its curve, its skulls, its buttons."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from flask import Response, render_template, send_file

from greasecheck.errors import LiveError, LogbookError
from greasecheck.garage.camera.pictures import TubPicture, newest_of, rounds_folder
from greasecheck.garage.ladder.eye import bars_by_eye
from greasecheck.garage.skull_stages import skull_lives
from greasecheck.garage.soaks.answers import standing_briefs
from greasecheck.live.entries.lines import EntryLine, entries_of_tub
from greasecheck.live.photos.kept import kept_file
from greasecheck.live.tubs.answering import garage_answers
from greasecheck.logbook.readings.readings import list_readings
from greasecheck.logbook.skulls.skulls import list_skulls
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import former_numbers
from greasecheck.model import Recipe
from greasecheck.predict.tables import known_species

if TYPE_CHECKING:
    from greasecheck.answers import TubAnswer
    from greasecheck.garage.milestones import SkullLife
    from greasecheck.live.parts import Live
    from greasecheck.live.tubs.curves import Curve
    from greasecheck.live.tubs.weighing import Weighed
    from greasecheck.logbook.today import TubToday

MOST_ENTRIES = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class TubPage:
    """A tub on its page; `weighed` is None while it is being worked out."""

    today: TubToday
    answer: TubAnswer
    weighed: Weighed | None
    skulls: tuple[SkullLife, ...]
    picture: TubPicture | None
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
            skulls=skull_lives(
                book, inside, standing_briefs(book, [number], answers.now), answers.now
            ),
            picture=newest_picture(live, book, number),
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


def newest_picture(live: Live, book: Logbook, number: int) -> TubPicture | None:
    """Return the newest of a tub's pictures that can be shown: its photo, or a fixed camera's."""
    rounds = rounds_folder(live.settings.logbook)
    found = [newest_of(rounds, number, *former_numbers(book, number))]
    photo = next((one for one in reversed(list_readings(book, number)) if one.photo_path), None)
    file = kept_file(live.settings.photos, photo.photo_path or "") if photo else None
    if photo and file and file.suffix == ".jpg":  # browsers show no HEIC, TIFF or raw file
        found.append(TubPicture(path=file, at=photo.taken_at))
    return max((one for one in found if one), key=lambda one: one.at, default=None)


def show_tub_photo(live: Live, number: int) -> Response:
    """Send the newest picture of a tub."""
    with Logbook(live.settings.logbook) as book:
        found = newest_picture(live, book, number)
    if found is None:
        raise LiveError("there is no photo of this tub", hint="take one")
    return send_file(found.path.absolute(), mimetype="image/jpeg", max_age=0)
