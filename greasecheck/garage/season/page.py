"""Gathers from the logbook all that the season's page shows."""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING

from PIL import Image, ImageOps

from greasecheck.answers import due_first, most_pressing_first
from greasecheck.garage.answers import stage_tasks
from greasecheck.garage.progress import quiet
from greasecheck.garage.season.parts import (
    charts_of_tub,
    ends_by_row,
    recipe_parts,
    risk_parts,
    tub_parts,
)
from greasecheck.garage.skull_stages import skull_lives
from greasecheck.garage.soaks.kept import all_soak_fits
from greasecheck.logbook.readings.readings import list_readings
from greasecheck.logbook.skulls.skulls import list_skulls
from greasecheck.measure.photo.file import OVERLAY_ENDING, file_name
from greasecheck.reference.cautions import Ingredient, cautions_for
from greasecheck.report.charts.data import SeasonData
from greasecheck.report.charts.registry import season_charts
from greasecheck.report.season.cards import tub_card
from greasecheck.report.season.records import Picture, RecipeRow, Season, SkullRow
from greasecheck.words.reasons import no_date_words
from greasecheck.words.recipes import (
    days_words,
    faster_words,
    more_words,
    reason_words,
    recipe_note_words,
)
from greasecheck.words.stages import stage_words, step_words
from greasecheck.words.times import day_words

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime
    from pathlib import Path

    from greasecheck.answers import Task, TubAnswer
    from greasecheck.garage.milestones import SkullLife
    from greasecheck.garage.progress import Progress
    from greasecheck.garage.season.parts import TubParts
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.model.recipe_ratios import RateRatio
    from greasecheck.report.season.records import TubCard

PHOTO_PX = 900
PHOTO_QUALITY = 75


def gather_season(
    book: Logbook,
    now: datetime,
    *,
    overlays: Path | None = None,
    simulated: bool = False,
    progress: Progress = quiet,
) -> Season:
    """Return all that the page shows.

    Parameters
    ----------
    book : Logbook
        Where to look.
    now : datetime.datetime
        Zone-aware.
    overlays : pathlib.Path, optional
        Folder with the pictures of what was found, as `read --overlay` writes them.
    simulated : bool
        Whether the page is to say that the season is invented.
    progress : callable
        Shows how far the work is.
    """
    tubs = tub_parts(book, now, progress=progress)
    fits = all_soak_fits(book, now, progress=progress)
    advised = {parts.today.tub.number: parts.advice for parts in tubs}
    recipes, risks = recipe_parts(fits), risk_parts(book, fits, advised, now)
    skulls = list_skulls(book)
    lives = skull_lives(book, skulls, advised, now)
    species = {skull.name: skull.species for skull in skulls}
    answers = tuple(parts.answer for parts in tubs)
    by_tub = {parts.today.tub.number: parts for parts in tubs}
    shown = SeasonData(
        now=now.astimezone(),
        ends=ends_by_row(tubs),
        ratios=recipes.found.ratios,
        risks=risks.by_name,
    )
    return Season(
        made_at=now.astimezone(),
        tasks=_tasks(answers, lives, now),
        tubs=tuple(_card(book, by_tub[answer.tub], now, overlays) for answer in due_first(answers)),
        skulls=tuple(
            _skull_row(life, species[life.name]) for life in sorted(lives, key=_next_first)
        ),
        recipes=tuple(_recipe_row(ratio) for ratio in recipes.found.ratios),
        recipe_notes=(
            *(recipe_note_words(note) for note in recipes.found.notes),
            *(f"Left out: {one.name}: {one.why}." for one in recipes.left_out),
        ),
        risks=risks.rows,
        risk_trust=risks.trust,
        cautions=cautions_for(*Ingredient),
        charts=season_charts(shown),
        simulated=simulated,
    )


def _tasks(
    answers: Sequence[TubAnswer], lives: Sequence[SkullLife], now: datetime
) -> tuple[Task, ...]:
    found = [task for answer in answers for task in answer.tasks]
    return most_pressing_first([*found, *stage_tasks(lives, now)])


def _card(book: Logbook, parts: TubParts, now: datetime, overlays: Path | None) -> TubCard:
    return tub_card(
        parts.today,
        parts.history,
        parts.advice,
        parts.bones,
        charts_of_tub(parts, now),
        newest_picture(book, parts.today.tub.number, overlays),
        answer=parts.answer,
    )


def newest_picture(book: Logbook, tub: int, overlays: Path | None) -> Picture | None:
    """Return the newest picture of a tub that lies in the folder; None without one."""
    if overlays is None:
        return None
    for reading in reversed(list_readings(book, tub)):
        name = file_name(reading.photo_path or "")
        file = overlays / f"{name}{OVERLAY_ENDING}"
        if name and file.is_file():
            return _shrunk(file, f"What was found on the photo of {day_words(reading.taken_at)}")
    return None


def _shrunk(file: Path, words: str) -> Picture | None:
    try:
        with Image.open(file) as opened:
            small = ImageOps.contain(opened.convert("RGB"), (PHOTO_PX, PHOTO_PX))
    except (OSError, ValueError, Image.DecompressionBombError):
        return None
    content = BytesIO()
    small.save(content, format="JPEG", quality=PHOTO_QUALITY)
    return Picture(jpeg=content.getvalue(), words=words)


def _next_first(life: SkullLife) -> tuple[bool, bool, float]:
    """Return the key by which skulls with something left to do come first, the nearest before."""
    stage = life.stage
    when = stage.next_at.timestamp() if stage.next_at else 0.0
    return stage.is_finished, stage.next_at is None, when


def _skull_row(life: SkullLife, species: str | None) -> SkullRow:
    stage = life.stage
    return SkullRow(
        name=life.name,
        species=species or "species unknown",
        owner=life.owner or "",
        stage=stage_words(stage.stage, stage.since),
        next_step=step_words(stage.stage, done=stage.done),
        next_day=day_words(stage.next_at) if stage.next_at else "",
        promise=_promise_words(life),
    )


def _promise_words(life: SkullLife) -> str:
    if life.withheld:
        return no_date_words(life.withheld)
    return day_words(life.stage.promise_at) if life.stage.promise_at else ""


def _recipe_row(ratio: RateRatio) -> RecipeRow:
    counts = f"{ratio.tubs} against {ratio.baseline_tubs} tubs"
    lines = [f"{counts}: {reason_words(ratio)}"]
    if ratio.ratio is not None:
        span = ratio.eight_in_ten
        lines.append(
            f"{ratio.ratio:.2f} times as fast (8 in 10: {span.low:.2f} to {span.high:.2f});"
            f" {faster_words(ratio)}; {days_words(ratio)}"
        )
    lines += [more] if (more := more_words(ratio)) else []
    return RecipeRow(
        title=f"{ratio.recipe} against {ratio.baseline}: {ratio.verdict}", lines=tuple(lines)
    )
