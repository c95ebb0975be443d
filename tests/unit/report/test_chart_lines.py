"""What stands where in a chart: marks, bands and bars, read off the drawn axes."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from matplotlib.figure import Figure

from greasecheck.model import Bound, Verdict
from greasecheck.model.recipe_ratios import RatioInterval
from greasecheck.predict.forecast_records import ClearDates
from greasecheck.report.charts.bone import bone_chart
from greasecheck.report.charts.data import SeasonData
from greasecheck.report.charts.season import rate_ratios_chart
from greasecheck.report.charts.style import DATE, PAPER
from greasecheck.report.charts.tub import draw_date_ranges, grease_left_chart, haze_chart
from tests.unit.report import season_samples as samples

if TYPE_CHECKING:
    from greasecheck.report.charts.style import Chart

A_DAY = timedelta(days=1)


def blank() -> Any:  # noqa: ANN401 - lines of matplotlib give data of any type
    return Figure().subplots()


def drawn(chart: Chart | None) -> Any:  # noqa: ANN401 - as above
    assert chart is not None
    axes = blank()
    chart.draw(axes)
    return axes


def marks(axes: Any, marker: str) -> list[Any]:  # noqa: ANN401 - as above
    return [line for line in axes.lines if line.get_marker() == marker]


def heights(lines: list[Any]) -> list[float]:
    return sorted(float(y) for line in lines for y in line.get_ydata())


def is_hollow(line: Any) -> bool:  # noqa: ANN401 - matplotlib's lines
    return bool(line.get_markerfacecolor() == PAPER)


def test_bounds_point_to_where_the_water_is_and_have_no_error_bars() -> None:
    """Of matplotlib's marks "^" has its tip above and "v" below."""
    axes = drawn(haze_chart(samples.tub_data(fitted=False)))
    above, below = (
        [one.attenuation_per_m for one in samples.history().readings if one.bound is bound]
        for bound in (Bound.ABOVE, Bound.BELOW)
    )
    assert heights(marks(axes, "^")) == above
    assert heights(marks(axes, "v")) == below
    assert len(axes.collections) == 2  # error bars, of good and of doubtful readings


def test_doubtful_readings_are_hollow_and_good_ones_full() -> None:
    axes = drawn(haze_chart(samples.tub_data(fitted=False)))
    plain = [one for one in samples.history().readings if one.bound is None]
    hollow = [line for line in marks(axes, "o") if is_hollow(line)]
    doubtful = [one.attenuation_per_m for one in plain if one.verdict is Verdict.DOUBTFUL]
    assert heights(hollow) == doubtful
    full = [line for line in marks(axes, "o") if not is_hollow(line)]
    assert len(heights(full)) == len(plain) - len(doubtful)


@pytest.mark.parametrize("fitted", [False, True])
def test_the_highest_reading_lies_within_the_chart(*, fitted: bool) -> None:
    data = samples.tub_data(fitted=fitted)
    high = replace(data.readings[-3], attenuation_per_m=90.0)
    axes = drawn(haze_chart(replace(data, readings=(*data.readings, high))))
    assert axes.get_ylim()[0] == 0
    assert 90.0 < axes.get_ylim()[1] < 120.0


def test_date_bars_are_eight_and_five_in_ten_the_likelier_the_thicker() -> None:
    """Of days 0, 1, ..., 100 eight in ten are 10 to 90, five in ten 25 to 75."""
    dates = ClearDates(origin=samples.START, days=np.arange(101.0))
    axes = blank()
    draw_date_ranges(axes, dates, 3.0, samples.at(400))
    thin, thick, middle = axes.lines
    assert thin.get_linewidth() < thick.get_linewidth()
    for line, low, high in ((thin, 10, 90), (thick, 25, 75)):
        begin, end = line.get_xdata()
        assert abs(begin - samples.at(low)) <= A_DAY
        assert abs(end - samples.at(high)) <= A_DAY
    (at,) = middle.get_xdata()
    assert abs(at - samples.at(50)) <= A_DAY


def test_the_band_of_grease_left_reaches_from_one_to_nine_in_ten() -> None:
    data = samples.tub_data()
    assert data.forecast is not None
    curve = data.forecast.curve
    axes = drawn(grease_left_chart(data))
    (band,) = axes.collections
    edge = np.round(band.get_paths()[0].vertices[:, 1], 6)
    for line in (curve.left_low_share, curve.left_high_share):
        assert np.isin(np.round(100 * line, 6), edge).all()
    limits = [line for line in axes.lines if line.get_color() == DATE and line.get_ls() == "--"]
    assert heights(limits) == [100 * data.forecast.rule.grease_left_share] * 2


def test_the_words_of_bones_name_their_last_look() -> None:
    """The samples fall by 0.6 a day from 45: 35.4 on day 16, 34.2 on day 18."""
    chart = bone_chart(samples.tub_data())
    assert chart is not None
    assert f"{samples.NASTY} 35 at last, vixen 34 at last" in chart.words
    assert "clean bone has 22" in chart.words


def test_doubtful_looks_are_hollow_and_not_joined() -> None:
    axes = drawn(bone_chart(samples.tub_data()))
    looks = [line for line in axes.lines if line.get_marker() not in {"None", "", None}]
    hollow = [line for line in looks if is_hollow(line)]
    assert heights(hollow) == pytest.approx([45 - 0.6 * 6] * 2)
    assert {line.get_linestyle() for line in hollow} == {"None"}
    assert "None" not in {line.get_linestyle() for line in looks if not is_hollow(line)}


def test_intervals_lie_on_one_another_the_narrowest_on_top() -> None:
    """A thin line drawn over a thick one of the same colour would be all that is seen of it."""
    axes = drawn(rate_ratios_chart(SeasonData(now=samples.NOW, ratios=[samples.ratio()])))
    bars = [line for line in axes.lines if len(line.get_xdata()) == 2][:3]
    spans = [line.get_xdata()[1] / line.get_xdata()[0] for line in bars]
    assert spans == sorted(spans, reverse=True)
    widths = [line.get_linewidth() for line in bars]
    assert widths == sorted(widths)


def test_a_wide_interval_lies_within_the_chart() -> None:
    wide = replace(
        samples.ratio(),
        intervals=(RatioInterval(probability=0.95, low=0.1, high=9.0),),
    )
    axes = drawn(rate_ratios_chart(SeasonData(now=samples.NOW, ratios=[wide])))
    low, high = axes.get_xlim()
    assert low < 0.1
    assert high > 9.0


def test_a_change_within_the_last_weeks_is_marked_and_an_older_one_is_not() -> None:
    data = samples.tub_data(fitted=False)
    now = data.now + timedelta(days=40)  # 45 days are shown: since day 15
    shown = drawn(haze_chart(replace(data, now=now)))
    short = [line for line in shown.lines if list(line.get_ydata()) == [0, 0.045]]
    assert len(short) == sum(change.at >= now - timedelta(days=45) for change in data.changes) == 1
