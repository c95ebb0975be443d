"""Every chart there is, in the order in which they are shown."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from greasecheck.report.charts.bone import bone_chart
from greasecheck.report.charts.season import (
    degreased_dates_chart,
    rate_ratios_chart,
    yellowing_risk_chart,
)
from greasecheck.report.charts.tub import grease_left_chart, haze_chart

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from greasecheck.report.charts.data import SeasonData, TubData
    from greasecheck.report.charts.style import Chart


class Part(StrEnum):
    """A part of the season's page that has charts."""

    TUBS = "tubs"
    RECIPES = "recipes"
    RISK = "risk"


TUB_CHARTS: tuple[Callable[[TubData], Chart | None], ...] = (
    haze_chart,
    grease_left_chart,
    bone_chart,
)
SEASON_CHARTS: Mapping[Part, tuple[Callable[[SeasonData], Chart | None], ...]] = {
    Part.TUBS: (degreased_dates_chart,),
    Part.RECIPES: (rate_ratios_chart,),
    Part.RISK: (yellowing_risk_chart,),
}


def tub_charts(data: TubData) -> tuple[Chart, ...]:
    """Return the charts of a tub; what nothing is known of has none."""
    return tuple(chart for make in TUB_CHARTS if (chart := make(data)) is not None)


def season_charts(data: SeasonData) -> dict[Part, tuple[Chart, ...]]:
    """Return the charts of each part of the season; what nothing is known of has none."""
    return {
        part: tuple(chart for make in makers if (chart := make(data)) is not None)
        for part, makers in SEASON_CHARTS.items()
    }
