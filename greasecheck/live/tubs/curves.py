"""Charts as they may stand in a page that allows no style attributes: each style a class."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.report.charts.style import inline_svg

if TYPE_CHECKING:
    from greasecheck.report.charts.style import Chart

STYLE = re.compile(r'\sstyle="([^"]*)"')
SHEET = re.compile(r"<style[^>]*>.*?</style>", re.DOTALL)
LINES = "svg *{stroke-linejoin:round;stroke-linecap:butt}"  # what the removed style sheets say


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """A chart in a page: its name, an SVG element, and the style sheet that goes with it."""

    name: str
    svg: str
    css: str


def as_curve(chart: Chart) -> Curve:
    """Return a chart with its style attributes as classes of a style sheet."""
    return _with_classes(chart.name, inline_svg(chart))


def _with_classes(name: str, svg: str) -> Curve:
    """Move style attributes into classes whose names begin with that of the chart.

    Examples
    --------
    >>> moved = _with_classes("haze-12", '<svg><path style="fill: none"/></svg>')
    >>> moved.svg, moved.css.removesuffix(LINES)
    ('<svg><path class="haze-12-0"/></svg>', '.haze-12-0{fill: none}')
    """
    svg = SHEET.sub("", svg)
    styles = {style: number for number, style in enumerate(dict.fromkeys(STYLE.findall(svg)))}
    moved = STYLE.sub(lambda found: f' class="{name}-{styles[found[1]]}"', svg)
    css = "".join(f".{name}-{number}{{{style}}}" for style, number in styles.items())
    return Curve(name=name, svg=moved, css=css + LINES)
