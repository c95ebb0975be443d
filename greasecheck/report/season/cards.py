"""The card of each tub: how it stands in words, its numbers and what they mean."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.logbook.today import FLAT_PER_M_PER_DAY
from greasecheck.predict.advice.change_interval import ChangeVerdict
from greasecheck.predict.advice.done import DoneVerdict
from greasecheck.predict.advice.stalled import StallVerdict
from greasecheck.predict.odds import odds_words
from greasecheck.report.charts.bone import bone_chart
from greasecheck.report.charts.tub import HazeStory, clear_chart, haze_chart
from greasecheck.report.season.records import Fact, TubCard
from greasecheck.report.words import day_words, haze_words, tub_title

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from collections.abc import Set as AbstractSet

    from greasecheck.logbook.today import TubToday
    from greasecheck.predict.advice.decisions import TubAdvice
    from greasecheck.predict.advice.done import SkullBone
    from greasecheck.predict.records import TubHistory
    from greasecheck.report.charts.style import Chart
    from greasecheck.report.season.records import Picture

EMPTY = "No skull degreases in it, or it holds no water."


def tub_card(  # noqa: PLR0913 - all that a card shows
    today: TubToday,
    history: TubHistory | None,
    advice: TubAdvice | None,
    bones: Sequence[SkullBone],
    charts: Sequence[Chart],
    photo: Picture | None,
    *,
    fault: str | None = None,
) -> TubCard:
    """Return the card of a tub.

    Parameters
    ----------
    today : TubToday
        How it stands by the log.
    history : TubHistory or None
        Its present soak.
    advice : TubAdvice or None
        What is advised; None when nothing degreases in it.
    bones : sequence of SkullBone
        Readings of the bones in it.
    charts : sequence of Chart
        From `tub_charts`.
    photo : Picture or None
        The newest photo.
    fault : str or None
        Why nothing can be advised.
    """
    skulls = [] if history is None else history.skulls
    inside = ", ".join(f"{skull.name} ({skull.species})" for skull in skulls)
    title = tub_title(today.tub.number, today.tub.name)
    return TubCard(
        number=today.tub.number,
        title=title + (f": {inside}" if inside else ""),
        headline=headline(advice) if advice else fault or EMPTY,
        facts=(*_logged_facts(today, bones), *(_advice_facts(advice) if advice else ())),
        charts=tuple(charts),
        advice=advice,
        photo=photo,
    )


def tub_charts(
    story: HazeStory,
    bones: Sequence[SkullBone],
    clean_yi: float,
) -> tuple[Chart, ...]:
    """Return the charts of a tub in their order."""
    found = (
        haze_chart(story),
        clear_chart(story),
        bone_chart(story.number, bones, clean_yi, story.now),
    )
    return tuple(chart for chart in found if chart is not None)


def headline(advice: TubAdvice) -> str:
    """Return how a tub stands in one sentence."""
    if advice.stall.verdict is StallVerdict.STALLED:
        return f"It has leached too slowly since {day_words(advice.stall.began_at)}: look at it."
    if advice.change.verdict is ChangeVerdict.CLEAR:
        return _clear_words({skull.verdict for skull in advice.skulls})
    dates = advice.forecast.dates
    early, middle, late = (day_words(dates.quantile(p)) for p in (0.1, 0.5, 0.9))
    if early[-4:] == middle[-4:] == late[-4:]:  # the year once
        early, middle = early[:-5], middle[:-5]
    return f"Clear about {middle}, 8 in 10 between {early} and {late}."


def _clear_words(verdicts: AbstractSet[DoneVerdict]) -> str:
    """Return how the skulls in clear water stand, the one least finished if there are several."""
    if DoneVerdict.YELLOW_PATCHES in verdicts:
        return "The water is clear, but the bone has yellow patches."
    if DoneVerdict.BONE_PALING in verdicts:
        return "The water is clear, but the bone still pales."
    if verdicts == {DoneVerdict.DONE}:
        return "The water is clear and the bone has settled: done."
    return "The water is clear; the bone decides."


def _logged_facts(today: TubToday, bones: Sequence[SkullBone]) -> Iterator[Fact]:
    if today.haze is not None:
        yield Fact(
            name="Haze",
            value=haze_words(today.haze),
            meaning=f"read {day_words(today.haze.taken_at)}{_trend_words(today)}",
        )
    if today.bath is not None:
        warm = today.bath.temperature_c
        yield Fact(
            name="Bath",
            value=str(today.bath.recipe),
            meaning=("" if warm is None else f"{warm:g} °C, ")
            + f"filled {day_words(today.bath.filled_at)}",
        )
    for bone in bones:
        if bone.looks:
            yield _bone_fact(bone)


def _trend_words(today: TubToday) -> str:
    """Return how the haze runs in the present water, after the day it was read."""
    trend = today.trend_per_m_per_day
    if trend is None:
        return ""
    if abs(trend) < FLAT_PER_M_PER_DAY:
        return ", flat in this water"
    return f", {'rises' if trend > 0 else 'falls'} {abs(trend):.1f} a day in this water"


def _bone_fact(bone: SkullBone) -> Fact:
    last = bone.looks[-1]
    patches = (
        ""
        if last.yellow_patch_share is None
        else f"; {last.yellow_patch_share:.0%} of its area in yellow patches"
    )
    return Fact(
        name=f"Yellowness of {bone.name}",
        value=f"{last.yi_e313:.0f}" + (f" ± {last.yi_std:.0f}" if last.yi_std else "") + " (E313)",
        meaning=f"read {day_words(last.at)}{patches}",
    )


def _advice_facts(advice: TubAdvice) -> tuple[Fact, ...]:
    found, change = advice.forecast, advice.change
    low, middle, high = found.gain_now_per_m
    digits = 1 if middle >= 1 else 2
    return (
        Fact(
            name=f"Fresh soak of {found.rule.soak_days:g} days gains",
            value=f"{middle:.{digits}f} per metre ({low:.{digits}f} to {high:.{digits}f})",
            meaning=f"8 in 10; clear is below {found.rule.gain_per_m:g}:"
            f" {odds_words(found.probability_clear_now)} sure",
        ),
        Fact(name="Next water change", value="not needed", meaning=change.reasons[0])
        if change.verdict is ChangeVerdict.CLEAR
        else Fact(
            name="Next water change",
            value=day_words(change.due_at),
            meaning=f"every {change.best_interval_days:g} d costs least; leaching rate"
            f" {change.leach_share:.0%} of that in fresh water",
        ),
    )
