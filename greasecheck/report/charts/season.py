"""The charts of a whole season: all tubs' clear dates, the recipes, the risk of yellowing."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator, PercentFormatter

from greasecheck.model.recipe_ratios import RecipeVerdict
from greasecheck.report.charts.style import (
    BONE,
    INK,
    PAPER,
    WATER,
    Chart,
    date_axis,
    dated_words,
    mark_now,
)
from greasecheck.report.charts.tub import draw_date_ranges
from greasecheck.words.figures import capital, odds_words
from greasecheck.words.reasons import no_date_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from datetime import datetime

    from matplotlib.axes import Axes

    from greasecheck.model.recipe_ratios import RateRatio
    from greasecheck.predict.forecast_records import ClearDates
    from greasecheck.predict.yellowing.records import YellowingRisk
    from greasecheck.report.charts.data import SeasonData, TubEnd

ROW_PT, FRAME_PT = 26.0, 62.0
WIDTHS = {0.95: 3.0, 0.8: 6.0, 0.5: 11.0}
RATIO_TICKS = (0.25, 0.5, 1.0, 2.0, 4.0)
LONGEST_NAME = 16
LATEST = 0.9
MARGIN = timedelta(days=7)
MOST_BEFORE = timedelta(days=28)
FAR_BEHIND, ROOM_FOR_DATES = 2.0, 1.35  # times as late as the usual tub; for the day's name


def degreased_dates_chart(data: SeasonData) -> Chart | None:
    """Chart the degreased dates of all tubs under their names; None without any."""
    ends = data.ends
    if not ends:
        return None
    return Chart(
        name="tubs",
        title="When each tub is degreased",
        hint="Diamond: as likely before as after; thick bar: 5 in 10; thin bar: 8 in 10.",
        words=" ".join(_ends_words(ends)),
        height_pt=FRAME_PT + ROW_PT * len(ends),
        draw=lambda axes: _draw_tubs(axes, ends, data.now),
    )


def _ends_words(ends: Mapping[str, TubEnd]) -> Iterator[str]:
    dated = sum(end.dates is not None for end in ends.values())
    yield f"When tubs are degreased, {dated} of {len(ends)}: middle, 5 in 10 and 8 in 10."
    for name, end in ends.items():
        if end.withheld:
            yield f"{capital(name)}: {no_date_words(end.withheld)}."


def _draw_tubs(axes: Axes, ends: Mapping[str, TubEnd], now: datetime) -> None:
    known = [end.dates for end in ends.values() if end.dates is not None]
    begins = [dates.quantile(1 - LATEST) or now for dates in known]
    begin = max(min([*begins, now]), now - MOST_BEFORE) - MARGIN
    end = _horizon(known, now)
    for row, one in enumerate(ends.values()):
        if one.dates is not None:
            draw_date_ranges(axes, one.dates, row, end)
            _name_date(axes, one.dates, row, (begin, now, end))
        elif one.withheld is not None:
            _write(axes, no_date_words(one.withheld), (now, row))
    _name_rows(axes, list(ends))
    axes.set_ylim(len(ends) - 0.5, -1.1)
    mark_now(axes, now)
    axes.set_xlim(begin, end)  # type: ignore[arg-type]
    date_axis(axes, now.tzinfo)
    axes.set_xlabel("degreased")


def _horizon(known: Iterable[ClearDates], now: datetime) -> datetime:
    """Return where the axis ends: a tub far behind the others does not squeeze them together."""
    lates = [dates.quantile(LATEST) for dates in known]
    ahead = sorted(late - now for late in lates if late is not None and late > now)
    if not ahead:
        return now + 4 * MARGIN
    usual = ahead[len(ahead) // 2]
    return now + max(min(ahead[-1], FAR_BEHIND * usual), 4 * MARGIN) * ROOM_FOR_DATES


def _name_date(
    axes: Axes, dates: ClearDates, row: int, frame: tuple[datetime, datetime, datetime]
) -> None:
    """Write the middle date right of its bars; with an arrow where it lies outside the frame."""
    begin, now, end = frame
    middle, late = dates.quantile(0.5), dates.quantile(LATEST)
    words = "later" if middle is None else dated_words(middle.astimezone(), now)
    if middle is None or middle > end:
        _write(axes, f"{words} \N{RIGHTWARDS ARROW}", (end, row), left_of=True)
    elif middle < begin:
        _write(axes, f"\N{LEFTWARDS ARROW} {words}", (begin, row))
    else:
        _write(axes, words, (min(late or end, end), row))


def _write(axes: Axes, words: str, at: tuple[datetime, int], *, left_of: bool = False) -> None:
    """Write words right of a place, or left of it."""
    axes.annotate(
        words,
        at,
        xytext=(-2 if left_of else 7, 0),
        textcoords="offset points",
        ha="right" if left_of else "left",
        va="center",
        fontsize=11,
    )


def rate_ratios_chart(data: SeasonData) -> Chart | None:
    """Chart how many times as fast one recipe leaches as another; None when none is ranked."""
    ranked = {ratio: ratio.ratio for ratio in data.ratios if ratio.ratio is not None}
    if not ranked:
        return None
    return Chart(
        name="recipes",
        title="Rate against another recipe",
        hint="Diamond: best estimate; bars: 50%, 80% and 95%. Right of 1: faster. Species and "
        "temperature are allowed for.",
        words="; ".join(_ratio_words(ratio) for ratio in ranked) + ".",
        height_pt=FRAME_PT + 1.4 * ROW_PT * len(ranked),
        draw=lambda axes: _draw_recipes(axes, ranked),
    )


def _ratio_words(ratio: RateRatio) -> str:
    open_end = ", not settled" if ratio.verdict is RecipeVerdict.OPEN else ""
    return f"{ratio.recipe} leaches {ratio.ratio:.2f} times as fast as {ratio.baseline}{open_end}"


def _draw_recipes(axes: Axes, ratios: Mapping[RateRatio, float]) -> None:
    for row, (ratio, middle) in enumerate(ratios.items()):
        _nested(axes, row, [(i.probability, i.low, i.high) for i in ratio.intervals], WATER)
        axes.plot(middle, row, marker="D", color=PAPER, markeredgecolor=INK, markersize=7)
    axes.axvline(1.0, color=INK, linewidth=1.0)
    axes.set_xscale("log")
    low = min(i.low for ratio in ratios for i in ratio.intervals)
    high = max(i.high for ratio in ratios for i in ratio.intervals)
    axes.set_xlim(min(0.45, low / 1.1), max(2.2, high * 1.1))
    axes.xaxis.set_major_locator(FixedLocator(RATIO_TICKS))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g} times"))
    _name_rows(axes, [f"{ratio.recipe}\nto {ratio.baseline}" for ratio in ratios])
    axes.set_xlabel("as fast")


def yellowing_risk_chart(data: SeasonData) -> Chart | None:
    """Chart how likely each skull yellows later, under its name; None without any."""
    risks = data.risks
    if not risks:
        return None
    listed = ", ".join(f"{name} {odds_words(found.probability)}" for name, found in risks.items())
    return Chart(
        name="risk",
        title="Risk of yellowing later",
        hint="Diamond: best estimate; bars: 50%, 80% and 95%. For a skull that still soaks: as "
        "if it were taken out today.",
        words=f"Risk of yellowing later: {listed}.",
        height_pt=FRAME_PT + ROW_PT * len(risks),
        draw=lambda axes: _draw_risk(axes, risks),
    )


def _draw_risk(axes: Axes, risks: Mapping[str, YellowingRisk]) -> None:
    for row, found in enumerate(risks.values()):
        _nested(axes, row, [(i.probability, i.low, i.high) for i in found.intervals], BONE)
        axes.plot(
            found.probability, row, marker="D", color=PAPER, markeredgecolor=INK, markersize=7
        )
    axes.set_xlim(0, 1)
    axes.xaxis.set_major_formatter(PercentFormatter(1.0))
    _name_rows(axes, list(risks))
    axes.set_xlabel("risk of yellowing later")


def _nested(axes: Axes, row: int, spans: Sequence[tuple[float, float, float]], colour: str) -> None:
    """Draw intervals of (probability, low, high), the likelier half the thicker."""
    for probability, low, high in sorted(spans, reverse=True):
        axes.plot(
            [low, high],
            [row, row],
            color=colour,
            alpha=0.5,
            linewidth=WIDTHS.get(probability, min(WIDTHS.values())),
            solid_capstyle="butt",
        )


def _name_rows(axes: Axes, names: Sequence[str]) -> None:
    """Name the rows from the top down; long names are cut."""
    short = [
        name if len(name) <= LONGEST_NAME or "\n" in name else f"{name[: LONGEST_NAME - 1]}…"
        for name in names
    ]
    axes.set_yticks(np.arange(len(names)), short)
    axes.set_ylim(len(names) - 0.5, -0.7)
    axes.tick_params(axis="y", length=0)
    axes.grid(visible=False, axis="y")
    axes.grid(visible=True, axis="x")
