"""Gathers from the logbook every skull with its signs, treatments and later looks."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise
from typing import TYPE_CHECKING

from greasecheck.garage.risk.signs import signs_at_end
from greasecheck.logbook.readings.readings import readings_of_skull
from greasecheck.logbook.skulls.skulls import follow_ups
from greasecheck.logbook.skulls.stays import skull_events
from greasecheck.predict.records import SECONDS_PER_DAY
from greasecheck.predict.yellowing.records import FinishedSkull, Look, Measured
from greasecheck.predict.yellowing.regression import outcome_of
from greasecheck.stages import EventKind

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from greasecheck.garage.soaks.past import PastSoak
    from greasecheck.logbook.records import LoggedReading, SkullEvent
    from greasecheck.logbook.skulls.soaks import Soak
    from greasecheck.logbook.store.book import Logbook

WHITE_WITHIN_DAYS = 14.0  # common practice, no source: so soon after whitening nothing shows


class Standing(StrEnum):
    """Where a skull is on its way."""

    SOAKING = "soaking"
    DEGREASED = "degreased"
    WHITENED = "whitened"
    RETURNED = "returned"
    YELLOWED = "yellowed"


@dataclass(frozen=True, slots=True, kw_only=True)
class SkullCase:
    """A skull after one of its soaks.

    Attributes
    ----------
    species : str or None
        Its species.
    standing : Standing
        Where it is on its way.
    whitened_at : datetime.datetime or None
        When it was last whitened after the soak.
    known : FinishedSkull
        Its name and signs, and its looks since `whitened_at`.
    earlier : tuple of FinishedSkull
        The same for each whitening before; they teach, too.
    """

    species: str | None
    standing: Standing
    whitened_at: datetime | None
    known: FinishedSkull
    earlier: tuple[FinishedSkull, ...]


def skull_cases(
    book: Logbook, spans: Sequence[PastSoak], now: datetime, left: Mapping[Soak, Measured]
) -> tuple[SkullCase, ...]:
    """Return every soak of every skull that ever degreased, the last of a skull after the others.

    Parameters
    ----------
    book : Logbook
        Where to look.
    spans : sequence of PastSoak
        From `greasecheck.garage.soaks.past.past_soaks`.
    now : datetime.datetime
        Zone-aware; later entries are not looked at.
    left : mapping
        The share of grease that soaks left, where it is known.
    """
    soaks = sorted(
        ((soak, span) for span in spans for soak in span.soaks),
        key=lambda pair: (pair[0].skull, pair[0].since),
    )
    following = [*(soak for soak, _ in soaks[1:]), None][: len(soaks)]
    return tuple(
        _case(
            book,
            span,
            soak,
            after.since if after and after.skull == soak.skull else now,
            left,
        )
        for (soak, span), after in zip(soaks, following, strict=True)
    )


def _case(
    book: Logbook, span: PastSoak, soak: Soak, until: datetime, left: Mapping[Soak, Measured]
) -> SkullCase:
    end = min(soak.until or until, until)
    signs = signs_at_end(book, span, soak, end, left)
    events = [
        event for event in skull_events(book, soak.skull) if soak.since < event.happened_at <= until
    ]
    whitenings = [event.happened_at for event in events if event.kind is EventKind.WHITENED]
    treated = [
        FinishedSkull(
            name=soak.skull,
            signs=replace(signs, resoaked_after_whitening=_resoaked(events, start, stop)),
            looks=_looks(book, soak.skull, start, stop),
        )
        for start, stop in pairwise([*whitenings, until])
    ]
    known = treated[-1] if treated else FinishedSkull(name=soak.skull, signs=signs)
    return SkullCase(
        species=soak.species,
        standing=_standing(events, known, soaking=soak.until is None or soak.until > until),
        whitened_at=whitenings[-1] if whitenings else None,
        known=known,
        earlier=tuple(treated[:-1]),
    )


def _standing(events: Sequence[SkullEvent], known: FinishedSkull, *, soaking: bool) -> Standing:
    outcome = outcome_of(known.looks)
    if outcome is not None and outcome.yellow_by_days is not None:
        return Standing.YELLOWED
    if events and events[-1].kind is EventKind.RETURNED:
        return Standing.RETURNED
    if any(event.kind is EventKind.WHITENED for event in events):
        return Standing.WHITENED
    return Standing.SOAKING if soaking else Standing.DEGREASED


def _resoaked(events: Sequence[SkullEvent], start: datetime, stop: datetime) -> Measured:
    between = [event.kind for event in events if start < event.happened_at <= stop]
    return Measured(value=float(EventKind.RESOAKED in between))


def _looks(book: Logbook, skull: str, whitened_at: datetime, until: datetime) -> tuple[Look, ...]:
    """Return follow-ups, and readings that can be compared with one soon after the whitening."""
    later = [
        reading
        for reading in readings_of_skull(book, skull)
        if whitened_at < reading.taken_at <= until and reading.bone_yi_e313 is not None
    ]
    white = next(
        (one for one in later if _days(whitened_at, one.taken_at) <= WHITE_WITHIN_DAYS), None
    )
    seen = [
        Look(
            days=_days(whitened_at, one.seen_at),
            yellowed=one.yellowed,
            yi_rise=_rise(white, one.yi_e313),
        )
        for one in follow_ups(book, skull)
        if whitened_at < one.seen_at <= until
    ]
    read = [
        Look(
            days=_days(whitened_at, one.taken_at),
            yellowed=False,
            yi_rise=_rise(white, one.bone_yi_e313),
        )
        for one in later
        if white is not None and one.key != white.key and one.bone_state is white.bone_state
    ]
    return tuple(sorted((*seen, *read), key=lambda look: look.days))


def _rise(white: LoggedReading | None, yi_e313: float | None) -> float | None:
    if white is None or white.bone_yi_e313 is None or yi_e313 is None:
        return None
    return yi_e313 - white.bone_yi_e313


def _days(since: datetime, at: datetime) -> float:
    return (at - since).total_seconds() / SECONDS_PER_DAY
