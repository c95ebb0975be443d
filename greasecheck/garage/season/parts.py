"""The season in parts, each with its chart: tubs, recipes and risks from the logbook."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.errors import GreasecheckError, LogbookError
from greasecheck.garage.answers import tub_answer
from greasecheck.garage.progress import quiet
from greasecheck.garage.recipes import soak_rates
from greasecheck.garage.risk.cases import Standing
from greasecheck.garage.risk.left import grease_left
from greasecheck.garage.risk.risk import learn, photo_lines, trust_line
from greasecheck.garage.series import skull_bones, tub_history
from greasecheck.garage.soaks.refresh import advice_of_tubs, brief_of, found_advice
from greasecheck.logbook.today import garage_today
from greasecheck.measure.bone.target import clean_bone
from greasecheck.measure.colorimetry import yellowness_e313
from greasecheck.predict.recipes.comparison import compare_recipes
from greasecheck.predict.yellowing.risk import yellowing_risk
from greasecheck.report.charts.data import TubData, TubEnd
from greasecheck.report.charts.registry import tub_charts
from greasecheck.report.season.records import RiskRow

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from greasecheck.answers import TubAnswer
    from greasecheck.garage.progress import Progress
    from greasecheck.garage.recipes import UncomparedSoak
    from greasecheck.garage.soaks.fits import SoakFit
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.logbook.today import TubToday
    from greasecheck.predict.advice.decisions import TubAdvice
    from greasecheck.predict.advice.done import SkullBone
    from greasecheck.predict.recipes.records import RecipeComparison
    from greasecheck.predict.records import TubHistory
    from greasecheck.predict.yellowing.records import YellowingRisk
    from greasecheck.report.charts.style import Chart


@dataclass(frozen=True, slots=True, kw_only=True)
class TubParts:
    """A tub as the log and the advice know it.

    Attributes
    ----------
    today : TubToday
        How it stands by the log.
    bones : tuple of SkullBone
        Readings of the bones in it.
    history : TubHistory or None
        Its present soak; None for one in which nothing degreases.
    advice : TubAdvice or None
        What is advised.
    fault : str or None
        Why nothing can be advised, though something degreases.
    """

    today: TubToday
    bones: tuple[SkullBone, ...]
    history: TubHistory | None = None
    advice: TubAdvice | None = None
    fault: str | None = None

    @property
    def answer(self) -> TubAnswer:
        """Return the answer about the tub."""
        brief = brief_of(self.advice) if self.advice else None
        return tub_answer(self.today, brief, fault=self.fault or "", made_at=self.today.at)


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipeParts:
    """The recipes against each other, and the soaks that could not be compared."""

    found: RecipeComparison
    left_out: tuple[UncomparedSoak, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RiskParts:
    """The risk of each skull, highest first, and how far to trust it."""

    rows: tuple[RiskRow, ...]
    trust: tuple[str, ...]

    @property
    def by_name(self) -> dict[str, YellowingRisk]:
        """Return the risks by the skulls' names."""
        return {row.name: row.risk for row in self.rows}


def tub_parts(
    book: Logbook, now: datetime, number: int | None = None, *, progress: Progress = quiet
) -> tuple[TubParts, ...]:
    """Return each tub, or that of a number; one that makes no sense spoils none of the others.

    Raises
    ------
    LogbookError
        When there is no tub of the number.
    """
    tubs = garage_today(book, now, number)
    if number is not None and not tubs:
        raise LogbookError(f"there is no tub {number}", hint="see the list of tubs")
    each = (one for today in tubs for one in found_advice(book, [today.tub.number], now))
    advised = dict(progress(each, len(tubs), "weighing tubs"))
    tubs = garage_today(book, now, number)  # again: advice settles which changes nobody entered
    return tuple(_tub_parts(book, today, advised[today.tub.number], now) for today in tubs)


def _tub_parts(book: Logbook, today: TubToday, advice: TubAdvice | None, now: datetime) -> TubParts:
    number = today.tub.number
    bones = skull_bones(book, number, now)
    fault = None if advice else _fault(book, number, now)
    history = None if fault else tub_history(book, number, now)
    return TubParts(today=today, bones=bones, history=history, advice=advice, fault=fault)


def _fault(book: Logbook, number: int, now: datetime) -> str | None:
    """Return why nothing can be told of a tub; None where nothing degreases in it."""
    try:
        list(advice_of_tubs(book, [number], now))
    except GreasecheckError as error:
        return error.problem
    return None


def charts_of_tub(parts: TubParts, now: datetime) -> tuple[Chart, ...]:
    """Return the charts of a tub; none for one in which nothing degreases."""
    if parts.history is None:
        return ()
    data = TubData(
        number=parts.today.tub.number,
        readings=parts.history.readings,
        changes=parts.history.changes,
        forecast=parts.advice.forecast if parts.advice else None,
        now=now.astimezone(),
        withheld=parts.advice.withheld if parts.advice else None,
        bones=parts.bones,
        clean_yi=float(yellowness_e313(clean_bone().xyz)),
    )
    return tub_charts(data)


def ends_by_row(tubs: Sequence[TubParts]) -> dict[str, TubEnd]:
    """Return when all tubs are degreased by the names of their rows in the season's chart."""
    return {
        f"tub {parts.today.tub.number}": TubEnd(
            dates=parts.advice.degreased, withheld=parts.advice.withheld
        )
        for parts in tubs
        if parts.advice
    }


def recipe_parts(fits: Sequence[SoakFit]) -> RecipeParts:
    """Return the recipes against each other."""
    rates, left_out = soak_rates(fits)
    return RecipeParts(found=compare_recipes(rates), left_out=left_out)


def risk_parts(
    book: Logbook,
    fits: Sequence[SoakFit],
    advised: Mapping[int, TubAdvice | None],
    now: datetime,
) -> RiskParts:
    """Return the risk that each skull yellows later."""
    soaks = [fit.soak for fit in fits]
    lessons = learn(book, soaks, now, grease_left(book, soaks, now, advised, made=fits))
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
        trust=(trust_line(lessons), *photo_lines(lessons)),
    )
