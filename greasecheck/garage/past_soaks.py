"""Every soak of every tub as the forecast takes it, past ones too."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.garage.series import haze_reading, is_rinse, same_water, water_change
from greasecheck.logbook.series import list_soaks, tub_series
from greasecheck.predict.records import SoakingSkull, TubHistory
from greasecheck.predict.tables import UNKNOWN_SPECIES

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.logbook.book import Logbook
    from greasecheck.logbook.series import HazePoint, Soak, TubSeries
    from greasecheck.predict.records import SameWater


@dataclass(frozen=True, slots=True, kw_only=True)
class PastSoak:
    """A span in which skulls soaked in a tub without a break.

    Attributes
    ----------
    tub : int
        The tub.
    until : datetime.datetime
        When the last of them ended; now for those that last.
    soaks : tuple of Soak
        Which skulls.
    history : TubHistory
        Water and readings of that span.
    """

    tub: int
    until: datetime
    soaks: tuple[Soak, ...]
    history: TubHistory

    @property
    def name(self) -> str:
        """Return the tub and the day it began."""
        since = min(soak.since for soak in self.soaks)
        return f"tub {self.tub} from {since.astimezone():%Y-%m-%d}"

    @property
    def temperature_known(self) -> bool:
        """Say whether any bath's temperature was entered."""
        return any(change.temperature_c is not None for change in self.history.changes)


def past_soaks(book: Logbook, now: datetime) -> tuple[PastSoak, ...]:
    """Return the spans in which skulls degreased, by tub, oldest first for each.

    Soaks that follow a whitening draw no grease and are left out, and so are spans without water.
    """
    soaks = [soak for soak in list_soaks(book) if soak.since <= now and not is_rinse(book, soak)]
    found = []
    for tub in sorted({soak.tub for soak in soaks}):
        series = tub_series(book, tub)
        here = sorted((soak for soak in soaks if soak.tub == tub), key=lambda soak: soak.since)
        same = same_water(book, tub)
        spans = [_past_soak(series, same, span, now) for span in _spans(here, now)]
        found += [span for span in spans if span.history.changes]
    return tuple(found)


def _spans(soaks: list[Soak], now: datetime) -> list[list[Soak]]:
    """Group soaks, oldest first, that overlap."""
    spans: list[list[Soak]] = []
    for soak in soaks:
        if spans and soak.since < _end(spans[-1], now):
            spans[-1].append(soak)
        else:
            spans.append([soak])
    return spans


def _end(soaks: list[Soak], now: datetime) -> datetime:
    return max(min(soak.until or now, now) for soak in soaks)


def _past_soak(
    series: TubSeries, same: tuple[SameWater, ...], soaks: list[Soak], now: datetime
) -> PastSoak:
    since, until = soaks[0].since, _end(soaks, now)
    logged = [change for change in series.changes if change.logged and change.at < until]
    first = max(bisect_right(logged, since, key=lambda change: change.at) - 1, 0)
    return PastSoak(
        tub=series.tub,
        until=until,
        soaks=tuple(soaks),
        history=TubHistory(
            skulls=tuple(
                SoakingSkull(
                    name=soak.skull, species=soak.species or UNKNOWN_SPECIES, since=soak.since
                )
                for soak in soaks
            ),
            changes=tuple(water_change(change) for change in logged[first:]),
            readings=tuple(haze_reading(point) for point in _within(series.hazes, since, until)),
            same_water=same,
        ),
    )


def _within(hazes: Sequence[HazePoint], since: datetime, until: datetime) -> Sequence[HazePoint]:
    first = bisect_left(hazes, since, key=lambda point: point.taken_at)
    return hazes[first : bisect_right(hazes, until, key=lambda point: point.taken_at)]
