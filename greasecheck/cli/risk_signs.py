"""Gathers from the logbook what bears on a skull's yellowing later."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from greasecheck.cli.series import bone_looks
from greasecheck.errors import ForecastError
from greasecheck.logbook.readings import readings_of_skull
from greasecheck.logbook.records import EventKind
from greasecheck.logbook.series import tub_series
from greasecheck.logbook.skulls import follow_ups, skull_events
from greasecheck.measure.bone_target import clean_bone
from greasecheck.measure.colorimetry import yellowness_e313
from greasecheck.predict.advice_table import advice_value
from greasecheck.predict.bone_trend import bone_trend
from greasecheck.predict.forecasting import fit_tub
from greasecheck.predict.records import SECONDS_PER_DAY
from greasecheck.predict.tables import UNKNOWN_SPECIES, species_range
from greasecheck.predict.yellowing_fit import outcome_of
from greasecheck.predict.yellowing_records import FinishedSkull, Look, Measured, Signs
from greasecheck.predict.yellowing_residual import residual_grease

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.cli.past_soaks import PastSoak
    from greasecheck.logbook.book import Logbook
    from greasecheck.logbook.records import LoggedReading, SkullEvent
    from greasecheck.logbook.series import Soak
    from greasecheck.predict.bone_trend import BoneLook, BoneTrend

END_LOOKS = 3
WHITE_WITHIN_DAYS = 14.0  # common practice, no source: so soon after whitening nothing shows
YELLOWNESS_STD = 1.5  # from photo to photo of the same bone; common practice, no source
PATCH_SHARE_STD = 0.03  # common practice, no source


class Standing(StrEnum):
    """Where a skull is on its way."""

    SOAKING = "soaking"
    DEGREASED = "degreased"
    WHITENED = "whitened"
    RETURNED = "returned"
    YELLOWED = "yellowed"


@dataclass(frozen=True, slots=True, kw_only=True)
class SkullCase:
    """A skull with what bears on its yellowing.

    Attributes
    ----------
    species : str or None
        Its species.
    standing : Standing
        Where it is on its way.
    whitened_at : datetime.datetime or None
        When it was last whitened.
    known : FinishedSkull
        Its name, signs and looks since the whitening.
    """

    species: str | None
    standing: Standing
    whitened_at: datetime | None
    known: FinishedSkull


def skull_cases(
    book: Logbook, soaks: Sequence[PastSoak], now: datetime, *, with_fit: bool
) -> tuple[SkullCase, ...]:
    """Return every skull that ever degreased, by its last soak.

    Parameters
    ----------
    book : Logbook
        Where to look.
    soaks : sequence of PastSoak
        From `greasecheck.cli.past_soaks.past_soaks`.
    now : datetime.datetime
        Zone-aware; later entries are not looked at.
    with_fit : bool
        Whether to fit each tub for the grease that was left; without it that sign is unmeasured.
    """
    last = {
        soak.skull: (span, soak)
        for span in sorted(soaks, key=lambda span: span.until)
        for soak in span.soaks
    }
    return tuple(
        _case(book, span, soak, now, with_fit=with_fit) for _, (span, soak) in sorted(last.items())
    )


def _case(book: Logbook, span: PastSoak, soak: Soak, now: datetime, *, with_fit: bool) -> SkullCase:
    events = [event for event in skull_events(book, soak.skull) if event.happened_at <= now]
    whitened_at = _whitened_since(events, soak)
    end = min(soak.until or now, now)
    trend, ends = _bone_at_end(book, span, soak, end)
    signs = Signs(
        residual_grease_share=_residual(span, end) if with_fit else None,
        yellowness_at_end=_yellowness(ends),
        yellowness_fall_per_week=_fall(trend),
        yellow_patch_share=_measured(trend.yellow_patch_share, PATCH_SHARE_STD),
        log2_soak_over_usual=_soak_over_usual(soak, end),
        resoaked_after_whitening=_resoaked(events, whitened_at),
    )
    looks = _looks(book, soak.skull, whitened_at, now) if whitened_at else ()
    known = FinishedSkull(name=soak.skull, signs=signs, looks=looks)
    return SkullCase(
        species=soak.species,
        standing=_standing(soak, events, known, now),
        whitened_at=whitened_at,
        known=known,
    )


def _whitened_since(events: Sequence[SkullEvent], soak: Soak) -> datetime | None:
    """Return when a skull was last whitened after `soak` began; None when it was not."""
    times = [event.happened_at for event in events if event.kind is EventKind.WHITENED]
    return max((time for time in times if time > soak.since), default=None)


def _standing(
    soak: Soak, events: Sequence[SkullEvent], known: FinishedSkull, now: datetime
) -> Standing:
    outcome = outcome_of(known.looks)
    if outcome is not None and outcome.yellow_by_days is not None:
        return Standing.YELLOWED
    if events and events[-1].kind is EventKind.RETURNED:
        return Standing.RETURNED
    if _whitened_since(events, soak) is not None:
        return Standing.WHITENED
    return Standing.SOAKING if soak.until is None or soak.until > now else Standing.DEGREASED


def _measured(value: float | None, std: float) -> Measured | None:
    return None if value is None else Measured(value=value, std=std)


def _residual(span: PastSoak, end: datetime) -> Measured | None:
    try:
        return residual_grease(fit_tub(span.history, end))
    except ForecastError:
        return None


def _bone_at_end(
    book: Logbook, span: PastSoak, soak: Soak, end: datetime
) -> tuple[BoneTrend, list[BoneLook]]:
    """Return the bone's trend and its last comparable looks at the end of the soak."""
    alone = len(span.soaks) == 1
    points = [
        point
        for point in tub_series(book, span.tub, since=soak.since).bones
        if point.taken_at <= end and (point.skull == soak.skull or (alone and point.skull is None))
    ]
    looks = bone_looks(points)
    alike = [look for look in looks if look.state is looks[-1].state]
    return bone_trend(looks, end), alike[-END_LOOKS:]


def _yellowness(ends: Sequence[BoneLook]) -> Measured | None:
    if not ends:
        return None
    clean = float(yellowness_e313(clean_bone().xyz))
    value = float(np.median([look.yi_e313 for look in ends])) - clean
    return Measured(value=value, std=YELLOWNESS_STD / float(np.sqrt(len(ends))))


def _fall(trend: BoneTrend) -> Measured | None:
    """Return how fast the yellowness fell, its error from the ends of the slope's interval."""
    slope, low, high = (
        trend.slope_per_week,
        trend.slope_low_per_week,
        trend.slope_high_per_week,
    )
    if slope is None or low is None or high is None:
        return None
    reach = float(special.ndtri(advice_value("settled_confidence")))
    return Measured(value=-slope, std=(high - low) / 2 / reach)


def _soak_over_usual(soak: Soak, end: datetime) -> Measured | None:
    usual = species_range(soak.species or UNKNOWN_SPECIES)
    days = (end - soak.since).total_seconds() / SECONDS_PER_DAY
    if usual.species == UNKNOWN_SPECIES or days <= 0:
        return None
    return Measured(value=float(np.log2(days / np.sqrt(usual.low_days * usual.high_days))))


def _resoaked(events: Sequence[SkullEvent], whitened_at: datetime | None) -> Measured | None:
    if whitened_at is None:
        return None
    after = [event.kind for event in events if event.happened_at > whitened_at]
    return Measured(value=float(EventKind.RESOAKED in after))


def _looks(book: Logbook, skull: str, whitened_at: datetime, now: datetime) -> tuple[Look, ...]:
    """Return follow-ups, and readings that can be compared with one soon after the whitening."""
    later = [
        reading
        for reading in readings_of_skull(book, skull)
        if whitened_at < reading.taken_at <= now and reading.bone_yi_e313 is not None
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
        if whitened_at < one.seen_at <= now
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
