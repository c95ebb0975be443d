"""The card of each tub: how it stands in words, its numbers and what they mean."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.logbook.today import FLAT_PER_M_PER_DAY
from greasecheck.model.verdicts import ChangeVerdict
from greasecheck.report.season.records import Fact, TubCard
from greasecheck.words.figures import (
    CLEARS_LAST,
    capital,
    clear_limit_words,
    haze_words,
    odds_words,
    patch_share_words,
    two_digits,
)
from greasecheck.words.notes import notes_words
from greasecheck.words.reasons import (
    figures_of,
    left_range_words,
    no_date_words,
    reason_words,
    reasons_words,
)
from greasecheck.words.times import day_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from greasecheck.answers import TubAnswer
    from greasecheck.logbook.today import TubToday
    from greasecheck.predict.advice.change_interval import ChangeAdvice
    from greasecheck.predict.advice.decisions import TubAdvice
    from greasecheck.predict.advice.done import SkullBone
    from greasecheck.predict.forecast_records import Forecast
    from greasecheck.predict.records import TubHistory
    from greasecheck.report.charts.style import Chart
    from greasecheck.report.season.records import Picture


def tub_card(  # noqa: PLR0913 - all that a card shows
    today: TubToday,
    history: TubHistory | None,
    advice: TubAdvice | None,
    bones: Sequence[SkullBone],
    charts: Sequence[Chart],
    photo: Picture | None,
    *,
    answer: TubAnswer,
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
        In the order in which they are shown.
    photo : Picture or None
        The newest photo.
    answer : TubAnswer
        How it stands.
    """
    return TubCard(
        answer=answer,
        inside=", ".join(_inside(today, history)),
        facts=tub_facts(today, advice, bones),
        charts=tuple(charts),
        notes=advice_notes(advice) if advice else (),
        photo=photo,
    )


def _inside(today: TubToday, history: TubHistory | None) -> Iterator[str]:
    """Yield what is in a tub now, with its species; its history also tells what was taken out."""
    species = {} if history is None else {one.name: one.species for one in history.skulls}
    for name in today.skulls:
        yield f"{name} ({species[name]})" if name in species else name


def tub_facts(
    today: TubToday, advice: TubAdvice | None, bones: Sequence[SkullBone]
) -> tuple[Fact, ...]:
    """Return the figures of a tub, those of the log first."""
    return (*_logged_facts(today, bones), *(_advice_facts(advice) if advice else ()))


def advice_notes(advice: TubAdvice) -> tuple[str, ...]:
    """Return what a tub's figures leave untold of its decisions, and how far to trust them."""
    untold = advice.change.reasons[1:]  # the first stands beside the day of the next change
    why = reasons_words((*untold, *figures_of(advice.stall.reasons)))
    skulls = (
        f"{one.name}: {reason}" for one in advice.skulls for reason in reasons_words(one.reasons)
    )
    return (*why, *skulls, *notes_words(advice.forecast.notes))


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
        else f"; {patch_share_words(last.yellow_patch_share, last.yellow_share_std)} of its area in"
        " yellow patches"
    )
    return Fact(
        name=f"Yellowness of {bone.name}",
        value=f"{last.yi_e313:.0f}" + (f" ± {last.yi_std:.0f}" if last.yi_std else ""),
        meaning=f"read {day_words(last.at)}{patches}",
    )


def _limit_words(found: Forecast) -> str:
    return clear_limit_words(found.clear_in_tub_per_m, found.litres_over_standard)


def _clear_words(advice: TubAdvice) -> str:
    if advice.withheld:
        return no_date_words(advice.withheld)
    if advice.forecast.clears_last:
        return "only after it is degreased"
    return day_words(advice.forecast.dates.quantile(0.5))


def _advice_facts(advice: TubAdvice) -> tuple[Fact, ...]:
    found, change = advice.forecast, advice.change
    low, middle, high = map(two_digits, found.gain_in_tub_per_m)
    return (
        Fact(
            name="Grease left in the bone",
            value=left_range_words(*found.grease_left_share),
            meaning=f"8 in 10{_of_several(advice)}; degreased is below"
            f" {found.rule.grease_left_share:.0%}:"
            f" {odds_words(advice.probability_degreased_now)} sure",
        ),
        Fact(
            name="Water runs clear",
            value=_clear_words(advice),
            meaning=f"a fresh bath left for {found.rule.soak_days:g} days gains"
            f" {middle} per metre now ({low} to {high}), clear is"
            f" below {_limit_words(found)}"
            + (f". {capital(CLEARS_LAST)}" if found.clears_last else ""),
        ),
        _change_fact(change),
    )


def _of_several(advice: TubAdvice) -> str:
    return ", of the greasiest skull" if len(advice.skulls) > 1 else ""


def _change_fact(change: ChangeAdvice) -> Fact:
    ends = change.verdict is ChangeVerdict.ENOUGH
    return Fact(
        name="Next water change",
        value="not needed" if ends else day_words(change.due_at),
        meaning=reason_words(change.reasons[0]),
    )
