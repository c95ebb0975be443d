"""Charts as small pictures: one look, as SVG that follows light and dark, or as PNG."""

from __future__ import annotations

import re
import warnings
from dataclasses import dataclass
from html import escape
from io import BytesIO, StringIO
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.dates import AutoDateLocator, num2date
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime, tzinfo

    from matplotlib.axes import Axes
    from matplotlib.typing import RcKeyType

POINTS_PER_INCH = 72.0
WIDTH_PT = 320.0  # as wide as a phone's page, so that the letters are read at arm's length
TUB_HEIGHT_PT = 210.0  # of a chart of one tub
PNG_DPI = 225.0

INK, MUTED, GRID, PAPER = "#1d2522", "#5b6660", "#d9d4c6", "#fffdf7"
WATER, BONE, DATE, ALERT = "#0b6470", "#8a5200", "#6a3d8f", "#a3262a"
DARK = {
    INK: "#efe9dc",
    MUTED: "#a9b1aa",
    GRID: "#3b443f",
    PAPER: "#1c2320",
    WATER: "#63c7d2",
    BONE: "#e3a958",
    DATE: "#c6a0ea",
    ALERT: "#ff8f8a",
}
NAMES = {
    INK: "ink",
    MUTED: "muted",
    GRID: "grid",
    PAPER: "paper",
    WATER: "water",
    BONE: "bone",
    DATE: "date",
    ALERT: "alert",
}
STYLE: dict[RcKeyType, Any] = {
    "axes.edgecolor": MUTED,
    "axes.labelcolor": INK,
    "axes.labelsize": 12.0,
    "axes.facecolor": "none",
    "axes.grid": True,
    "axes.spines.right": False,
    "axes.spines.top": False,
    "axes.axisbelow": True,
    "figure.facecolor": "none",
    "font.family": ["DejaVu Sans"],
    "font.size": 12.0,
    "grid.color": GRID,
    "grid.linewidth": 0.8,
    "legend.fontsize": 11.0,
    "legend.frameon": False,
    "svg.fonttype": "none",
    "text.color": INK,
    "text.parse_math": False,
    "xtick.color": MUTED,
    "xtick.labelcolor": INK,
    "xtick.labelsize": 11.5,
    "ytick.color": MUTED,
    "ytick.labelcolor": INK,
    "ytick.labelsize": 11.5,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """A chart that is not yet drawn.

    Attributes
    ----------
    name : str
        Short and unlike that of any other chart on its page; letters, digits and dashes.
    title, hint : str
        What stands above it, and how to read its marks.
    words : str
        What it shows, for those who cannot see it.
    height_pt : float
        Its height [points] at a width of 320.
    draw : callable
        Draws it on the axes it is given.
    """

    name: str
    title: str
    hint: str = ""
    words: str
    height_pt: float
    draw: Callable[[Axes], None]


def inline_svg(chart: Chart) -> str:
    """Return a chart as an SVG element for a page that defines the colours' variables.

    Examples
    --------
    >>> chart = Chart(
    ...     name="line", title="A line", words="a line", height_pt=90, draw=lambda axes: None
    ... )
    >>> inline_svg(chart)[:45]
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns'
    """
    sheet = StringIO()
    with mpl.rc_context({**STYLE, "svg.hashsalt": chart.name}):
        figure = _drawn(chart)
        FigureCanvasSVG(figure)
        with warnings.catch_warnings():
            # Letters stay text, which browsers draw in fonts of their own.
            warnings.filterwarnings("ignore", r"Glyph \d+", UserWarning)
            figure.savefig(sheet, format="svg", metadata={"Date": None, "Creator": None})
    body = sheet.getvalue().split("<svg", 1)[1].split(">", 1)[1]
    body = re.sub(r"<metadata>.*?</metadata>", "", body, flags=re.DOTALL)
    body = re.sub(r'(id="|href="#|url\(#)', rf"\1{chart.name}-", body)
    body = body.replace("'DejaVu Sans'", "system-ui, sans-serif")
    for colour, name in NAMES.items():
        body = body.replace(colour, f"var(--{name})")
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'viewBox="0 0 {WIDTH_PT:g} {chart.height_pt:g}" role="img" '
        f'aria-label="{escape(chart.words)}">{body}'
    )


def svg_file(chart: Chart) -> bytes:
    """Return a chart as the content of an SVG file, which follows the viewer's light or dark."""
    style = (
        f"<style>svg{{{variables(dark=False)};background:var(--paper)}}"
        f"@media(prefers-color-scheme:dark){{svg{{{variables(dark=True)}}}}}</style>"
    )
    opening, body = inline_svg(chart).split(">", 1)
    return f"{opening}>{style}{body}".encode()


def png_file(chart: Chart) -> bytes:
    """Return a chart as the content of a PNG file on light paper, 1000 px wide."""
    picture = BytesIO()
    with mpl.rc_context({**STYLE, "figure.facecolor": PAPER}):
        figure = _drawn(chart)
        FigureCanvasAgg(figure)
        figure.savefig(picture, format="png", dpi=PNG_DPI)
    return picture.getvalue()


def variables(*, dark: bool) -> str:
    """Return the colours of charts and page as CSS variables."""
    return ";".join(
        f"--{name}:{DARK[colour] if dark else colour}" for colour, name in NAMES.items()
    )


def _drawn(chart: Chart) -> Figure:
    size = (WIDTH_PT / POINTS_PER_INCH, chart.height_pt / POINTS_PER_INCH)
    figure = Figure(figsize=size, layout="constrained")
    chart.draw(figure.add_subplot())
    return figure


def date_axis(axes: Axes, zone: tzinfo | None) -> None:
    """Label the horizontal axis with few dates in `zone`."""
    locator = AutoDateLocator(tz=zone, minticks=3, maxticks=5)  # type: ignore[no-untyped-call]
    axes.xaxis.set_major_locator(locator)

    def words(day: float, _: object) -> str:
        return _day_and_month(num2date(day, tz=zone))  # type: ignore[no-untyped-call]

    axes.xaxis.set_major_formatter(FuncFormatter(words))
    axes.grid(visible=False, axis="x")


def _day_and_month(when: datetime) -> str:
    return f"{when.day} {when:%b}"


def dated_words(when: datetime, now: datetime) -> str:
    """Return a day in a few letters, with its year when that is not the present one.

    Examples
    --------
    >>> from datetime import UTC, datetime
    >>> dated_words(datetime(2027, 2, 9, tzinfo=UTC), datetime(2026, 5, 25, tzinfo=UTC))
    '9 Feb 2027'
    """
    return _day_and_month(when) if when.year == now.year else f"{_day_and_month(when)} {when.year}"


def mark_now(axes: Axes, now: datetime) -> None:
    """Draw the line of the present moment."""
    axes.axvline(now, color=INK, linewidth=1.0, linestyle=(0, (2, 2)))  # type: ignore[arg-type]
    axes.annotate(
        "now",
        (now, 1.0),
        xycoords=("data", "axes fraction"),
        xytext=(3, -2),
        textcoords="offset points",
        va="top",
        fontsize=11,
    )
