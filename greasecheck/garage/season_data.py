"""Gathers from the logbook what the season's page and its charts show."""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING

from PIL import Image, ImageOps

from greasecheck.errors import GreasecheckError, LogbookError
from greasecheck.garage.kept_fits import all_soak_fits
from greasecheck.garage.progress import quiet
from greasecheck.garage.recipes import more_words, soak_rates
from greasecheck.garage.risk import learn, photo_lines, trust_lines
from greasecheck.garage.risk_cases import Standing
from greasecheck.garage.series import finished_tubs, skull_bones, tub_history
from greasecheck.garage.skull_stages import skull_lives
from greasecheck.garage.tub_advice import advise_tubs
from greasecheck.logbook.readings import list_readings
from greasecheck.logbook.skulls import list_skulls
from greasecheck.logbook.today import garage_today
from greasecheck.measure.bone_target import clean_bone
from greasecheck.measure.colorimetry import yellowness_e313
from greasecheck.measure.photo_exif import OVERLAY_ENDING
from greasecheck.predict.odds import odds_words
from greasecheck.predict.recipes import compare_recipes
from greasecheck.predict.stalled import StallVerdict
from greasecheck.predict.yellowing import yellowing_risk
from greasecheck.reference.cautions import Ingredient, cautions_for
from greasecheck.report.charts_season import recipes_chart, risk_chart, tubs_chart
from greasecheck.report.charts_tub import HazeStory
from greasecheck.report.season_cards import tub_card, tub_charts
from greasecheck.report.season_records import Picture, RecipeRow, RiskRow, Season, SkullRow
from greasecheck.report.season_tasks import (
    day_words,
    most_pressing_first,
    stage_task,
    tub_tasks,
)

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime
    from pathlib import Path

    from greasecheck.garage.progress import Progress
    from greasecheck.garage.recipes import LeftOut
    from greasecheck.garage.skull_stages import SkullLife
    from greasecheck.garage.soak_fits import SoakFit
    from greasecheck.logbook.book import Logbook
    from greasecheck.logbook.today import TubToday
    from greasecheck.predict.advice import TubAdvice
    from greasecheck.predict.recipes_records import RateRatio, RecipeComparison
    from greasecheck.predict.records import TubHistory
    from greasecheck.report.charts import Chart
    from greasecheck.report.season_records import Task, TubCard

PHOTO_PX = 900
PHOTO_QUALITY = 75
SHOWN_PROBABILITY = 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class TubParts:
    """A tub as the log and the advice know it; `fault` says why there is no advice."""

    today: TubToday
    history: TubHistory | None
    advice: TubAdvice | None
    fault: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipeParts:
    """The recipes against each other, and the soaks that told nothing."""

    found: RecipeComparison
    left_out: tuple[LeftOut, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RiskParts:
    """The risk of each skull, highest first, and how far to trust it."""

    rows: tuple[RiskRow, ...]
    trust: tuple[str, ...]


def tub_parts(
    book: Logbook, now: datetime, number: int | None = None, *, progress: Progress = quiet
) -> tuple[TubParts, ...]:
    """Return each tub, or that of a number; one that makes no sense spoils none of the others.

    Raises
    ------
    LogbookError
        When there is no tub of the number.
    """
    tubs = [today for today in garage_today(book, now) if number in {None, today.tub.number}]
    if number is not None and not tubs:
        raise LogbookError(f"there is no tub {number}", hint="see the tubs: greasecheck today")
    each = progress(iter(tubs), len(tubs), "weighing tubs")
    return tuple(_tub_parts(book, today, now) for today in each)


def _tub_parts(book: Logbook, today: TubToday, now: datetime) -> TubParts:
    number = today.tub.number
    try:
        [(_, advice)] = advise_tubs(book, [number], now)
    except GreasecheckError as error:
        return TubParts(today=today, history=None, advice=None, fault=error.problem)
    history = tub_history(book, number, now)
    return TubParts(today=today, history=history, advice=advice, fault=None)


def charts_of(book: Logbook, parts: TubParts, now: datetime) -> tuple[Chart, ...]:
    """Return the charts of a tub; none for one in which nothing degreases."""
    if parts.history is None:
        return ()
    number = parts.today.tub.number
    story = HazeStory(
        number=number,
        readings=parts.history.readings,
        changes=parts.history.changes,
        forecast=parts.advice.forecast if parts.advice else None,
        now=now.astimezone(),
        stalled=_is_stalled(parts),
    )
    return tub_charts(
        story,
        skull_bones(book, number, now),
        float(yellowness_e313(clean_bone().xyz)),
    )


def chart_of_tubs(tubs: Sequence[TubParts], now: datetime) -> Chart | None:
    """Return the chart of all tubs' clear dates."""
    forecasts = {_row_name(parts): parts.advice.forecast for parts in tubs if parts.advice}
    return tubs_chart(forecasts, now.astimezone())


def _row_name(parts: TubParts) -> str:
    """Return a tub's name in the chart; a stalled one's dates are not to be relied on."""
    return f"tub {parts.today.tub.number}" + ("\nstalled" if _is_stalled(parts) else "")


def _is_stalled(parts: TubParts) -> bool:
    return parts.advice is not None and parts.advice.stall.verdict is StallVerdict.STALLED


def season_fits(
    book: Logbook, now: datetime, tubs: Sequence[TubParts] = (), *, progress: Progress = quiet
) -> tuple[SoakFit, ...]:
    """Fit every soak, but for those fitted before or for the advice on `tubs`."""
    # The advice heeds finished tubs, which must not bend what recipes are compared by.
    shared = () if finished_tubs(book) else tubs
    made = {one.history: one.advice.fit for one in shared if one.history and one.advice}
    return all_soak_fits(book, now, made, progress=progress)


def recipe_parts(fits: Sequence[SoakFit]) -> RecipeParts:
    """Return the recipes against each other."""
    rates, left_out = soak_rates(fits)
    return RecipeParts(found=compare_recipes(rates), left_out=left_out)


def risk_parts(book: Logbook, fits: Sequence[SoakFit], now: datetime) -> RiskParts:
    """Return the risk that each skull yellows later."""
    lessons = learn(book, [fit.soak for fit in fits], now, fits=fits)
    rows = [
        RiskRow(
            name=case.known.name,
            standing=case.standing,
            risk=yellowing_risk(lessons.model, case.known),
        )
        for case in lessons.cases
        if case.standing is not Standing.YELLOWED
    ]
    return RiskParts(
        rows=tuple(sorted(rows, key=lambda row: -row.risk.probability)),
        trust=(*trust_lines(lessons), *photo_lines(lessons)),
    )


def chart_of_risks(parts: RiskParts) -> Chart | None:
    """Return the chart of the risks."""
    return risk_chart({row.name: row.risk for row in parts.rows})


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
    fits = season_fits(book, now, tubs, progress=progress)
    recipes, risks = recipe_parts(fits), risk_parts(book, fits, now)
    advised = {parts.today.tub.number: parts.advice for parts in tubs}
    skulls = list_skulls(book)
    lives = skull_lives(book, skulls, advised, now)
    species = {skull.name: skull.species for skull in skulls}
    charts = (chart_of_tubs(tubs, now), recipes_chart(recipes.found.ratios), chart_of_risks(risks))
    return Season(
        made_at=now.astimezone(),
        tasks=_tasks(tubs, lives, now),
        tubs=tuple(_card(book, parts, now, overlays) for parts in tubs),
        skulls=tuple(
            _skull_row(life, species[life.name]) for life in sorted(lives, key=_next_first)
        ),
        recipes=tuple(_recipe_row(ratio) for ratio in recipes.found.ratios),
        recipe_notes=(
            *recipes.found.notes,
            *(f"Left out: {one.name}: {one.why}." for one in recipes.left_out),
        ),
        risks=risks.rows,
        risk_trust=risks.trust,
        cautions=cautions_for(*Ingredient),
        charts=tuple(chart for chart in charts if chart is not None),
        simulated=simulated,
    )


def _tasks(tubs: Sequence[TubParts], lives: Sequence[SkullLife], now: datetime) -> tuple[Task, ...]:
    steps = [stage_task(life.name, life.stage, now) for life in lives]
    return most_pressing_first(
        [
            *(task for parts in tubs for task in tub_tasks(parts.today, parts.advice)),
            *(step for step in steps if step is not None),
        ]
    )


def _card(book: Logbook, parts: TubParts, now: datetime, overlays: Path | None) -> TubCard:
    number = parts.today.tub.number
    return tub_card(
        parts.today,
        parts.history,
        parts.advice,
        skull_bones(book, number, now),
        charts_of(book, parts, now),
        newest_picture(book, number, overlays),
        fault=parts.fault,
    )


def newest_picture(book: Logbook, tub: int, overlays: Path | None) -> Picture | None:
    """Return the newest picture of a tub that lies in the folder; None without one."""
    if overlays is None:
        return None
    for reading in reversed(list_readings(book, tub)):
        name = (reading.photo_path or "").replace("\\", "/").rsplit("/", 1)[-1]
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
    return not stage.next_step, stage.next_at is None, when


def _skull_row(life: SkullLife, species: str | None) -> SkullRow:
    stage = life.stage
    return SkullRow(
        name=life.name,
        species=species or "species unknown",
        owner=life.owner or "",
        stage=stage.stage,
        since=day_words(stage.since) if stage.since else "",
        next_step=stage.next_step,
        next_day=day_words(stage.next_at) if stage.next_at else "",
        promise=day_words(stage.promise_at) if stage.promise_at else "",
    )


def _recipe_row(ratio: RateRatio) -> RecipeRow:
    counts = f"{ratio.tubs} against {ratio.baseline_tubs} tubs"
    lines = [f"{counts}: {ratio.reason}"]
    if ratio.ratio is not None and ratio.probability_faster is not None:
        low, high = next(
            (part.low, part.high)
            for part in ratio.intervals
            if part.probability == SHOWN_PROBABILITY
        )
        lines.append(
            f"{ratio.ratio:.2f} times as fast (8 in 10: {low:.2f} to {high:.2f}); "
            f"faster with {odds_words(ratio.probability_faster)} probability"
        )
    if ratio.more_tubs_each != 0:
        lines.append(more_words(ratio))
    return RecipeRow(
        title=f"{ratio.recipe} against {ratio.baseline}: {ratio.verdict}", lines=tuple(lines)
    )
