"""Finds at a glance which charts a photo shows, by the ids of their markers."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from greasecheck.measure.sheet.checks import VERSION_IDS
from greasecheck.measure.sheet.markers import detect_at_a_glance, detect_quickly, grey_copy_of
from greasecheck.reference import known_cards, known_sheets
from greasecheck.reference.ladder.plate import dip_ladder

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.measure.sheet.markers import SeenMarker
    from greasecheck.model import Photo, SheetGeometry

NESTED_DICTIONARY = "DICT_4X4_250"  # holds the markers of DICT_4X4_50 and those of the cards
ENOUGH_CORNERS = 2  # of one chart; one alone may be a chance resemblance


class Chart(StrEnum):
    """A kind of chart."""

    SHEET = "sheet"
    CARD = "card"
    LADDER = "ladder"


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenCharts:
    """What a reduced copy of a photo shows.

    Attributes
    ----------
    kinds : frozenset of Chart
        The charts of which enough markers are seen.
    markers : tuple of SeenMarker
        The markers of all charts, corners good to about a pixel of that copy.
    """

    kinds: frozenset[Chart] = frozenset()
    markers: tuple[SeenMarker, ...] = ()


def seen_charts(photo: Photo) -> SeenCharts:
    """Return of which charts at least two corner markers are seen on a reduced copy.

    Of ladders one marker is enough: they are small where a photo shows several. A glance at a
    small copy does where it shows a chart, and no marker small: others beside it would be missed
    only if they were less than half as large.
    """
    grey = grey_copy_of(photo)
    charts = _charts(detect_at_a_glance(grey, NESTED_DICTIONARY, _own_ids()))
    return charts if charts.kinds else _charts(detect_quickly(grey, NESTED_DICTIONARY, _own_ids()))


def _own_ids() -> tuple[int, ...]:
    charts = (*known_sheets(), *known_cards())
    ids = {marker.id for chart in charts for marker in chart.markers}
    return tuple(sorted(ids | {*dip_ladder().markers, *VERSION_IDS}))


def _charts(seen: tuple[SeenMarker, ...]) -> SeenCharts:
    ids = {marker.id for marker in seen}
    shown = {
        Chart.SHEET: _shown(known_sheets(), ids),
        Chart.CARD: _shown(known_cards(), ids),
        Chart.LADDER: not ids.isdisjoint(dip_ladder().markers),
    }
    kinds = frozenset(kind for kind, is_shown in shown.items() if is_shown)
    return SeenCharts(kinds=kinds, markers=seen)


def _shown(charts: Sequence[SheetGeometry], ids: set[int]) -> bool:
    corners = ({marker.id for marker in chart.markers if marker.corner} for chart in charts)
    return any(len(ids & chart) >= ENOUGH_CORNERS for chart in corners)
