from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from io import BytesIO
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from matplotlib.figure import Figure
from PIL import Image

from greasecheck.model.reasons import ReasonCode
from greasecheck.predict.forecast_records import ClearDates
from greasecheck.reference.srgb import linear_of_srgb
from greasecheck.report.charts.bone import bone_chart
from greasecheck.report.charts.data import SeasonData, TubEnd
from greasecheck.report.charts.registry import season_charts, tub_charts
from greasecheck.report.charts.season import (
    degreased_dates_chart,
    rate_ratios_chart,
    yellowing_risk_chart,
)
from greasecheck.report.charts.style import (
    DARK,
    INK,
    PAPER,
    Chart,
    inline_svg,
    png_file,
    svg_file,
    variables,
)
from greasecheck.report.charts.tub import grease_left_chart, haze_chart
from tests.unit.report import season_samples as samples

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MARKS = re.compile(r"<use ")


def all_charts() -> list[Chart]:
    season = SeasonData(
        now=samples.NOW,
        ends={samples.NASTY: TubEnd(dates=samples.advice().degreased)},
        ratios=[samples.ratio(), samples.ratio(ranked=False)],
        risks={samples.NASTY: samples.risk()},
    )
    found = tub_charts(samples.tub_data())
    return [*found, *(one for charts in season_charts(season).values() for one in charts)]


def test_every_chart_is_drawn() -> None:
    names = ["haze-12", "clear-12", "bone-12", "tubs", "recipes", "risk"]
    assert [chart.name for chart in all_charts()] == names


@pytest.fixture(scope="module")
def drawn() -> list[str]:
    return [inline_svg(chart) for chart in all_charts()]


def luminance(colour: str) -> float:
    """Relative luminance of sRGB (WCAG 2.2, 2023, definition of relative luminance)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    return float(linear_of_srgb(parts) @ [0.2126, 0.7152, 0.0722])


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_formula() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)  # WCAG 2.2: the highest there is


@pytest.mark.parametrize("dark", [False, True])
def test_every_word_and_line_stands_out_from_its_paper(*, dark: bool) -> None:
    colours = dict(part.split(":") for part in variables(dark=dark).split(";"))
    for name in ("--ink", "--muted", "--water", "--bone", "--date", "--alert"):
        # WCAG 2.2, success criterion 1.4.3: 4.5 for text
        assert contrast(colours[name], colours["--paper"]) >= 4.5, name


def test_each_chart_is_one_svg_with_words_for_those_who_cannot_see_it() -> None:
    for chart in all_charts():
        root = ET.fromstring(svg_file(chart))
        assert root.get("role") == "img"
        assert root.get("aria-label") == chart.words
        assert root.tag == "{http://www.w3.org/2000/svg}svg"


def test_names_are_never_markup_in_a_chart(drawn: list[str]) -> None:
    assert not any("<script" in one for one in drawn)


def test_letters_stay_letters_even_those_that_look_like_formulas() -> None:
    chart = bone_chart(samples.tub_data())
    assert chart is not None
    root = ET.fromstring(inline_svg(chart))
    said = ["".join(node.itertext()) for node in root.iter("{http://www.w3.org/2000/svg}text")]
    assert samples.NASTY in said
    assert "clean bone" in said
    assert "yellowness" in said


def test_no_two_charts_of_a_page_share_an_id(drawn: list[str]) -> None:
    ids = [set(re.findall(r' id="([^"]+)"', one)) for one in drawn]
    assert sum(map(len, ids)) == len(set().union(*ids))
    for one, here in zip(drawn, ids, strict=True):
        assert set(re.findall(r'href="#([^"]+)"', one)) <= here
        assert set(re.findall(r"url\(#([^)]+)\)", one)) <= here


def test_a_chart_is_the_same_each_time() -> None:
    assert inline_svg(haze_chart(samples.tub_data())) == inline_svg(haze_chart(samples.tub_data()))


def test_inline_colours_are_variables_and_a_file_brings_both_schemes() -> None:
    chart = haze_chart(samples.tub_data())
    drawn = inline_svg(chart)
    assert "var(--ink)" in drawn
    assert not any(colour in drawn for colour in DARK)
    told = svg_file(chart).decode()
    assert f"--ink:{INK}" in told
    assert f"--ink:{DARK[INK]}" in told


def test_png_is_on_light_paper() -> None:
    picture = Image.open(BytesIO(png_file(haze_chart(samples.tub_data()))))
    assert picture.width == 1000
    assert picture.getpixel((3, 3))[:3] == tuple(bytes.fromhex(PAPER[1:]))  # type: ignore[index]


def test_every_recent_reading_is_a_dot_and_the_words_count_them() -> None:
    chart = haze_chart(samples.tub_data())
    readings = samples.history().readings
    assert f"{len(readings)} readings, with the fitted curve" in chart.words
    fewer = replace(samples.tub_data(), readings=readings[:10])
    lost = len(MARKS.findall(inline_svg(chart)))
    lost -= len(MARKS.findall(inline_svg(haze_chart(fewer))))
    assert lost >= len(readings) - 10


def test_nothing_later_than_now_is_drawn() -> None:
    data = replace(samples.tub_data(fitted=False), now=samples.NOW - timedelta(days=5))
    past = replace(
        data,
        readings=tuple(one for one in data.readings if one.at <= data.now),
        changes=tuple(one for one in data.changes if one.at <= data.now),
    )
    assert len(past.readings) < len(data.readings)
    assert inline_svg(haze_chart(data)) == inline_svg(haze_chart(past))


def test_a_tub_without_a_forecast_shows_its_readings_alone() -> None:
    bare = samples.tub_data(fitted=False)
    assert grease_left_chart(bare) is None
    assert "fitted" not in haze_chart(bare).words
    assert len(inline_svg(haze_chart(bare))) > 1000


def test_a_tub_without_anything_still_draws() -> None:
    empty = replace(samples.tub_data(fitted=False), readings=(), changes=())
    assert "0 readings" in haze_chart(empty).words
    assert inline_svg(haze_chart(empty)).endswith("</svg>\n")


def never(days: list[float]) -> ClearDates:
    return ClearDates(origin=samples.START, days=np.array(days))


def test_a_date_beyond_ten_years_is_said_and_not_drawn() -> None:
    late = replace(samples.advice().forecast, degreased=never([np.inf, np.inf]))
    chart = grease_left_chart(replace(samples.tub_data(), forecast=late))
    assert chart is not None
    assert "not within ten years" in chart.words
    assert "var(--date)" in inline_svg(chart)  # the threshold's line stays
    ends = {"a": TubEnd(dates=late.degreased), "b": TubEnd(dates=samples.advice().degreased)}
    both = degreased_dates_chart(SeasonData(now=samples.NOW, ends=ends))
    assert both is not None
    assert len(inline_svg(both)) > 1000


def test_a_range_that_never_ends_runs_to_the_edge() -> None:
    half = replace(samples.advice().forecast, degreased=never([*[30.0] * 60, *[np.inf] * 40]))
    chart = grease_left_chart(replace(samples.tub_data(), forecast=half))
    assert chart is not None
    assert "9 in 10" in chart.words
    assert len(inline_svg(chart)) > 1000


def test_the_words_of_a_low_limit_leave_the_day_free() -> None:
    told = replace(samples.advice().forecast, grease_left_share=(0.4, 0.6, 0.9))
    chart = grease_left_chart(replace(samples.tub_data(), forecast=told))
    assert chart is not None
    figure = Figure(figsize=(3.3, 2.3))
    axes = figure.subplots()
    chart.draw(axes)
    figure.draw_without_rendering()
    day, limit = (one.get_window_extent() for one in axes.texts[:2])
    assert limit.x0 < day.x0 < limit.x1
    assert not limit.overlaps(day)


def words_in(svg: str) -> list[str]:
    return [text.strip() for text in re.findall(r"<text[^>]*>([^<]*)</text>", svg)]


def around(day: float) -> TubEnd:
    days = np.linspace(day - 2, day + 2, 201)
    return TubEnd(dates=ClearDates(origin=samples.START, days=days))


def test_a_tub_far_behind_and_one_long_clear_do_not_squeeze_the_others() -> None:
    ends = {"near": around(40), "nearer": around(35), "late": around(400), "past": around(-90)}
    found = degreased_dates_chart(SeasonData(now=samples.NOW, ends=ends))
    assert found is not None
    said = words_in(inline_svg(found))
    late = next(words for words in said if words.endswith("\N{RIGHTWARDS ARROW}"))
    assert "2027" in late
    assert any(words.startswith("\N{LEFTWARDS ARROW}") for words in said)
    assert not any("2027" in words for words in said if words != late)


def test_a_season_in_which_all_is_clear_still_draws() -> None:
    found = degreased_dates_chart(SeasonData(now=samples.NOW, ends={"past": around(1)}))
    assert found is not None
    assert "past" in words_in(inline_svg(found))


def test_no_chart_shows_a_day_that_is_withheld() -> None:
    assert grease_left_chart(samples.tub_data()) is not None
    slow = replace(samples.tub_data(), withheld=ReasonCode.SLOW)
    assert grease_left_chart(slow) is None
    ends = {"tub 3": TubEnd(dates=None, withheld=ReasonCode.SLOW), "tub 4": around(40)}
    found = degreased_dates_chart(SeasonData(now=samples.NOW, ends=ends))
    assert found is not None
    assert "no date: its grease comes out too slowly" in words_in(inline_svg(found))
    assert found.words.endswith("Tub 3: no date: its grease comes out too slowly.")
    assert "1 of 2" in found.words


def test_nothing_known_gives_no_chart() -> None:
    assert bone_chart(replace(samples.tub_data(), bones=samples.bones()[2:])) is None
    assert degreased_dates_chart(SeasonData(now=samples.NOW)) is None
    assert (
        rate_ratios_chart(SeasonData(now=samples.NOW, ratios=[samples.ratio(ranked=False)])) is None
    )
    assert yellowing_risk_chart(SeasonData(now=samples.NOW)) is None


def test_words_of_the_recipes_say_what_is_not_settled() -> None:
    chart = rate_ratios_chart(SeasonData(now=samples.NOW, ratios=[samples.ratio()]))
    assert chart is not None
    assert chart.words == "ammonia leaches 1.30 times as fast as soap, not settled."


def test_readings_after_now_are_not_counted() -> None:
    early = replace(samples.tub_data(), now=samples.NOW - timedelta(days=5))
    assert "17 readings" in haze_chart(early).words


def test_names_in_any_script_are_drawn_without_a_warning() -> None:
    def draw(axes: Axes) -> None:
        axes.set_title("狐 🦊")

    chart = Chart(name="fox", title="A fox", words="a fox", height_pt=90, draw=draw)
    assert "狐 🦊" in inline_svg(chart)
