"""Renders the season's page: one HTML file that needs no network and no script."""

from __future__ import annotations

from base64 import b64encode
from functools import partial
from typing import TYPE_CHECKING

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from greasecheck.report.charts.style import inline_svg, variables
from greasecheck.words.answers import MARKS, sentence, short_answer, short_words, why
from greasecheck.words.calendar import PROMISE_NOTE
from greasecheck.words.figures import odds_words
from greasecheck.words.risk import MEANINGS, risk_words
from greasecheck.words.times import day_words

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.report.charts.style import Chart
    from greasecheck.report.season.records import Picture, Season


def season_page(season: Season) -> str:
    """Return the page as HTML; every text in it is escaped.

    Parameters
    ----------
    season : Season
        What to show.
    """
    return _environment(season.made_at).get_template("season.html.j2").render(season=season)


def _environment(now: datetime) -> Environment:
    found = Environment(
        loader=PackageLoader("greasecheck.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    found.filters.update(
        svg=_svg,
        day=day_words,
        jpeg=_jpeg,
        odds=odds_words,
        short=partial(short_answer, now=now),
        sentence=lambda task: sentence(task, now, named=False),
        why=partial(why, now=now),
        brief=partial(short_words, now=now),
        sign=MEANINGS.__getitem__,
        risk_words=lambda reason: risk_words(reason.feature, reason.value, reason.odds_factor),
    )
    found.globals.update(
        colours=lambda dark: Markup(variables(dark=dark)), marks=MARKS, promise_note=PROMISE_NOTE
    )
    return found


def _svg(chart: Chart) -> Markup:
    return Markup(inline_svg(chart))


def _jpeg(picture: Picture) -> str:
    return f"data:image/jpeg;base64,{b64encode(picture.jpeg).decode()}"
