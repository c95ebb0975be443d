"""The charts of one tub's water: its haze, and the grease left in the bone."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model import Bound, Verdict
from greasecheck.report.charts.style import (
    DATE,
    INK,
    PAPER,
    TUB_HEIGHT_PT,
    WATER,
    Chart,
    date_axis,
    dated_words,
    mark_now,
)
from greasecheck.words.times import day_words

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime, tzinfo

    from matplotlib.axes import Axes

    from greasecheck.predict.forecast_records import ClearDates, Forecast
    from greasecheck.predict.records import HazeReading
    from greasecheck.report.charts.data import TubData

HAZE_BEFORE, HAZE_AHEAD = timedelta(days=45), timedelta(days=14)
HEADROOM = 1.15
CLEAR_TOP = 4.0  # limits; what lies above it was long ago
LOW_LINE = 0.12  # of the height; below so low a line no words fit
DAY_PT, WORDS_PT = 9, 11  # the day stands above its rhomb; height of words in the chart
ABOVE_DAY_PT = DAY_PT + 1.3 * WORDS_PT  # clear of the day, descenders included


def haze_chart(data: TubData) -> Chart:
    """Chart the sawtooth of the last weeks with the fitted curve, its band, and the days ahead."""
    count = sum(data.now - HAZE_BEFORE <= one.at <= data.now for one in data.readings)
    fitted = ", with the fitted curve and the range of 8 in 10" if data.forecast else ""
    return Chart(
        name=f"haze-{data.number}",
        title="Haze of the water",
        words=f"Haze of tub {data.number} over the last {HAZE_BEFORE.days} days, "
        f"{count} readings{fitted}; it falls at each water change and rises in between.",
        height_pt=TUB_HEIGHT_PT,
        draw=lambda axes: _draw_haze(axes, data),
    )


def _draw_haze(axes: Axes, data: TubData) -> None:
    begin = max(
        data.now - HAZE_BEFORE, min((change.at for change in data.changes), default=data.now)
    )
    begin = min(begin, data.now - timedelta(days=2))
    end = data.now + HAZE_AHEAD if data.forecast else data.now + timedelta(days=1)
    seen = [one for one in data.readings if begin <= one.at <= data.now]
    tops = [one.attenuation_per_m for one in seen]
    if data.forecast:
        tops.append(_draw_fit(axes, data.forecast, begin, end))
    _draw_readings(axes, seen, data.now.tzinfo)
    for change in data.changes:
        if begin <= change.at <= data.now:
            axes.axvline(change.at, ymax=0.045, color=INK, linewidth=1.4)  # type: ignore[arg-type]
    mark_now(axes, data.now)
    axes.set_xlim(begin, end)  # type: ignore[arg-type]
    axes.set_ylim(0, HEADROOM * max(tops, default=1.0))
    axes.set_ylabel("haze")  # its unit stands where the word is explained
    date_axis(axes, data.now.tzinfo)


def _draw_fit(axes: Axes, forecast: Forecast, begin: datetime, end: datetime) -> float:
    """Draw curve and band; return the highest value of the curve."""
    curve = forecast.curve
    within = np.array([begin <= time <= end for time in curve.times])
    times = [time for time, keep in zip(curve.times, within, strict=True) if keep]
    axes.fill_between(
        times,  # type: ignore[arg-type]
        curve.low_per_m[within],
        curve.high_per_m[within],
        color=WATER,
        alpha=0.2,
        linewidth=0,
    )
    axes.plot(times, curve.median_per_m[within], color=WATER, linewidth=1.5)  # type: ignore[arg-type]
    return float(curve.median_per_m[within].max(initial=0.0))


def _draw_readings(axes: Axes, readings: Sequence[HazeReading], zone: tzinfo | None) -> None:
    for bound, marker in ((None, "o"), (Bound.ABOVE, "^"), (Bound.BELOW, "v")):
        for good in (True, False):
            shown = [
                one
                for one in readings
                if one.bound is bound and (one.verdict is Verdict.GOOD) is good
            ]
            if not shown:
                continue
            axes.errorbar(
                [one.at.astimezone(zone) for one in shown],  # type: ignore[arg-type]
                [one.attenuation_per_m for one in shown],
                yerr=None if bound else [one.std_per_m for one in shown],
                fmt=marker,
                color=INK,
                markersize=4.0,
                elinewidth=1.0,
                markerfacecolor=INK if good else PAPER,
            )


def grease_left_chart(data: TubData) -> Chart | None:
    """Chart the share of grease left in the bone until it is below the limit.

    None where that is unknown, or where its date is withheld.
    """
    found = data.forecast
    if found is None or data.withheld:
        return None
    early, middle, late = (day_words(found.degreased.quantile(p)) for p in (0.1, 0.5, 0.9))
    return Chart(
        name=f"clear-{data.number}",
        title="Grease left in the bone",
        words=f"The share of grease left in the bone of tub {data.number}, "
        f"falling to the limit of {found.rule.grease_left_share:.0%}: degreased {middle} (1 in 2), "
        f"between {early} (1 in 10) and {late} (9 in 10).",
        height_pt=TUB_HEIGHT_PT,
        draw=lambda axes: _draw_grease_left(axes, found, data.now),
    )


def _draw_grease_left(axes: Axes, found: Forecast, now: datetime) -> None:
    curve, limit = found.curve, 100 * found.rule.grease_left_share
    times = list(curve.times)
    axes.fill_between(
        times,  # type: ignore[arg-type]
        100 * curve.left_low_share,
        100 * curve.left_high_share,
        color=WATER,
        alpha=0.2,
        linewidth=0,
    )
    axes.plot(times, 100 * curve.left_median_share, color=WATER, linewidth=1.8)  # type: ignore[arg-type]
    axes.axhline(limit, color=DATE, linewidth=1.2, linestyle="--")
    top = min(max(CLEAR_TOP * limit, CLEAR_TOP / 2 * 100 * found.grease_left_share[1]), 100)
    axes.set_ylim(0, top)
    low = limit < LOW_LINE * top
    date_fan(axes, found.degreased, limit, (now, times[-1]))
    axes.annotate(
        f"degreased below {limit:g}%",
        (0.0, limit),
        xycoords=("axes fraction", "data"),
        xytext=(4, ABOVE_DAY_PT if low else -3),
        textcoords="offset points",
        va="bottom" if low else "top",
        fontsize=WORDS_PT,
    )
    mark_now(axes, now)
    axes.set_xlim(times[0], times[-1])  # type: ignore[arg-type]
    axes.set_ylabel("grease left [%]")
    date_axis(axes, now.tzinfo)


def date_fan(axes: Axes, dates: ClearDates, height: float, span: tuple[datetime, datetime]) -> None:
    """Draw the ranges of the degreased date and its middle, the day above it.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Where to draw.
    dates : ClearDates
        The dates.
    height : float
        At which they are drawn.
    span : tuple of datetime.datetime
        Now, and where the axis ends.
    """
    now, end = span
    draw_date_ranges(axes, dates, height, end)
    middle = dates.quantile(0.5)
    if middle is not None:
        axes.annotate(
            dated_words(middle.astimezone(), now.astimezone()),
            (middle, height),
            xytext=(0, DAY_PT),
            textcoords="offset points",
            ha="center",
            fontsize=WORDS_PT,
        )


def draw_date_ranges(axes: Axes, dates: ClearDates, height: float, end: datetime) -> None:
    """Draw the 80 % and 50 % ranges of the degreased date as bars, and its middle as a rhomb."""
    for probability, width in ((0.8, 5.0), (0.5, 10.0)):
        span = dates.interval(probability)
        if span.earliest is None:
            continue
        axes.plot(
            [span.earliest, span.latest or end],  # type: ignore[arg-type]
            [height, height],
            color=DATE,
            linewidth=width,
            alpha=0.55,
            solid_capstyle="butt",
        )
    middle = dates.quantile(0.5)
    if middle is not None:
        axes.plot(middle, height, marker="D", color=PAPER, markeredgecolor=INK, markersize=7)  # type: ignore[arg-type]
