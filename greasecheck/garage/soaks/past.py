"""Every soak of every tub as the forecast takes it, past ones too."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, replace
from operator import attrgetter
from typing import TYPE_CHECKING

from greasecheck.garage.series import (
    degreasing,
    haze_readings,
    same_water,
    soaking_skulls,
    temperature_records,
    top_ups,
    tub_volume_l,
    water_changes,
)
from greasecheck.logbook.readings.readings import list_readings
from greasecheck.logbook.skulls.soaks import list_soaks
from greasecheck.logbook.water.baths import list_baths
from greasecheck.predict.records import TubHistory

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import datetime

    from greasecheck.logbook.records import Bath, LoggedReading
    from greasecheck.logbook.skulls.soaks import Soak
    from greasecheck.logbook.store.book import Logbook


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
        """Return whether any bath's temperature was entered."""
        known = any(change.temperature_c is not None for change in self.history.changes)
        return known or bool(self.history.temperatures)


def past_soaks(book: Logbook, now: datetime) -> tuple[PastSoak, ...]:
    """Return the spans in which skulls degreased, by tub, oldest first for each.

    Soaks that follow a whitening draw no grease and are left out, and so are spans without water.
    """
    soaks = [soak for soak in list_soaks(book) if soak.since <= now and not soak.rinses]
    return tuple(
        span
        for tub in sorted({soak.tub for soak in soaks})
        for span in _of_tub(book, tub, [soak for soak in soaks if soak.tub == tub], now)
        if span.history.changes
    )


def running_soak(book: Logbook, tub: int, now: datetime) -> PastSoak | None:
    """Return the span of a tub's soaks that lasts until now; None when nothing degreases in it."""
    spans = [
        span for span in _of_tub(book, tub, degreasing(book, tub, now), now) if span.history.changes
    ]
    return spans[-1] if spans and spans[-1].until == now else None


def as_of(soak: PastSoak, end: datetime) -> PastSoak:
    """Return a soak as it was known at an earlier time: later water and readings are left out."""
    if end == soak.until:
        return soak
    past = soak.history
    known = replace(
        past,
        skulls=soaking_skulls(soak.soaks, end),
        changes=tuple(one for one in past.changes if one.at <= end),
        readings=tuple(one for one in past.readings if one.at <= end),
        temperatures=tuple(one for one in past.temperatures if one.at <= end),
        top_ups=tuple(one for one in past.top_ups if one.at <= end),
    )
    return replace(soak, until=end, history=known)


def _of_tub(book: Logbook, tub: int, soaks: Sequence[Soak], now: datetime) -> Iterator[PastSoak]:
    """Yield the spans in which some soaks in one tub overlap, with their water and readings."""
    baths, readings, same = list_baths(book, tub), list_readings(book, tub), same_water(book, tub)
    volume_l = tub_volume_l(book, tub)
    for span in _spans(sorted(soaks, key=lambda soak: soak.since), now):
        since, until = span[0].since, _end(span, now)
        held = _held(baths, since, until)
        yield PastSoak(
            tub=tub,
            until=until,
            soaks=tuple(span),
            history=TubHistory(
                skulls=soaking_skulls(span, until),
                changes=water_changes(held),
                readings=haze_readings(_within(readings, since, until)),
                temperatures=temperature_records(book, held, until),
                same_water=same,
                top_ups=top_ups(book, held, until),
                volume_l=volume_l,
            ),
        )


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


def _held(baths: Sequence[Bath], since: datetime, until: datetime) -> Sequence[Bath]:
    """Return the baths that the tub held between two times, the one at the start included."""
    first = max(bisect_right(baths, since, key=attrgetter("filled_at")) - 1, 0)
    return baths[first : bisect_left(baths, until, key=attrgetter("filled_at"))]


def _within(
    readings: Sequence[LoggedReading], since: datetime, until: datetime
) -> Sequence[LoggedReading]:
    first = bisect_left(readings, since, key=attrgetter("taken_at"))
    return readings[first : bisect_right(readings, until, key=attrgetter("taken_at"))]
