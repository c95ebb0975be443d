"""The list for the garage: how each tub stands and what the log asks for now."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum
from math import hypot
from typing import TYPE_CHECKING

from greasecheck.logbook.answers import read_unlogged
from greasecheck.logbook.changes import changes_among
from greasecheck.logbook.readings.readings import list_readings, open_attempts
from greasecheck.logbook.records import LoggedReading, Tub
from greasecheck.logbook.skulls.stays import rinse_soaks, soaking
from greasecheck.logbook.store.mapping import select
from greasecheck.logbook.store.tables import READINGS
from greasecheck.logbook.store.times import to_text
from greasecheck.logbook.water.baths import bath_at, emptied_at, list_tubs
from greasecheck.model import Bound, Verdict

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.logbook.records import Attempt, Bath, ProbableChange
    from greasecheck.logbook.skulls.stays import Stay
    from greasecheck.logbook.store.book import Logbook

# Without a source, where none is named; the comment beside each value states what it does.
CLOCKS_APART = timedelta(
    days=1
)  # a camera's clock or zone may be ahead; later readings are not yet known
RECENT = timedelta(days=30)  # older readings are of other baths
TREND_SPAN = timedelta(days=7)  # over which a rise is taken; shorter, scatter passes for one
READING_DUE = timedelta(days=3)  # doubled, a stall shows days later
FLAT_PER_M_PER_DAY = 0.2  # a smaller slope is shown as no rise
SURE_STDS = 2.0  # a slope, or that it is flat, is told where it is this many errors sure


class Ask(StrEnum):
    """What the log itself asks for; forecasts and advice on the bath come elsewhere."""

    NAME_TUB = "name_tub"
    ENTER_BATH = "enter_bath"
    CONFIRM_CHANGE = "confirm_change"
    RETAKE_PHOTO = "retake_photo"
    TAKE_PHOTO = "take_photo"
    DILUTE = "dilute"


@dataclass(frozen=True, slots=True, kw_only=True)
class TubToday:
    """How a tub stands.

    Attributes
    ----------
    at : datetime.datetime
        The moment this is true of.
    tub : Tub
        The tub.
    haze : LoggedReading or None
        Its newest haze reading.
    trend_per_m_per_day : float or None
        Slope of the haze in the present bath, over a week at most [1/m per day]; None where the
        errors of the readings leave it unsure.
    bath : Bath or None
        The bath it holds.
    skulls : tuple of str
        What soaks in it.
    soak_since : datetime.datetime or None
        When the longest of these soaks began.
    bone : LoggedReading or None
        The newest yellowness reading of the present soak.
    unentered : tuple of ProbableChange
        Water changes that nobody entered, it seems, oldest first: those of the last month, and
        those that the fit of the present soak found.
    refused : Attempt or None
        The newest photo of the tub that was refused, when no reading came after it.
    rinses : bool
        Whether all that soaks in it only rinses after whitening, so that its haze means nothing.
    emptied_at : datetime.datetime or None
        When its last bath was dumped without a refill; None when it was not.
    """

    at: datetime
    tub: Tub
    haze: LoggedReading | None
    trend_per_m_per_day: float | None
    bath: Bath | None
    skulls: tuple[str, ...]
    soak_since: datetime | None
    bone: LoggedReading | None
    unentered: tuple[ProbableChange, ...]
    refused: Attempt | None
    rinses: bool = False
    emptied_at: datetime | None = None

    @property
    def asks(self) -> tuple[Ask, ...]:
        """Return what the log asks for, most pressing first."""
        haze = self.haze if self.haze and self._still_matters(self.haze.taken_at) else None
        was_refused = self.refused is not None and self._still_matters(_taken_at(self.refused))
        wanted = {
            Ask.ENTER_BATH: self.bath is None and bool(self.skulls or haze),
            Ask.CONFIRM_CHANGE: bool(self.unentered),
            Ask.RETAKE_PHOTO: was_refused
            or (haze is not None and haze.verdict is Verdict.DOUBTFUL),
            Ask.DILUTE: haze is not None and haze.bound is Bound.ABOVE,
            Ask.TAKE_PHOTO: self._reading_due,
            Ask.NAME_TUB: self.tub == Tub(number=self.tub.number),  # met on a photo, never entered
        }
        return tuple(ask for ask, is_wanted in wanted.items() if is_wanted)

    def _still_matters(self, photographed_at: datetime) -> bool:
        """Return whether a photo is of a tub in use; of one that stands empty, an old one is not.

        It may have been emptied without an entry, or never been filled: a wrong tag in the slot.
        """
        if self.bath is not None or self.skulls:
            return True
        is_recent = self.at - photographed_at <= RECENT
        return is_recent and (self.emptied_at is None or photographed_at > self.emptied_at)

    @property
    def _reading_due(self) -> bool:
        if self.bath is None or self.rinses:
            return False
        return self.at - (self.haze.taken_at if self.haze else self.bath.filled_at) > READING_DUE


def garage_today(book: Logbook, at: datetime, number: int | None = None) -> tuple[TubToday, ...]:
    """Return how each tub stands at a time, by number.

    Parameters
    ----------
    book : Logbook
        Where to look.
    at : datetime.datetime
        The time, usually now.
    number : int, optional
        The one tub to look at; all without it.
    """
    stays = [stay for stay in soaking(book) if stay.soak_since <= at]
    attempts = [one for one in open_attempts(book) if _taken_at(one) <= at + CLOCKS_APART]
    rinsing = rinse_soaks(book)
    in_use = {stay.tub for stay in stays}
    degreasing = {stay.tub for stay in stays if (stay.skull, stay.soak_since) not in rinsing}
    return tuple(
        _tub_today(
            book,
            tub,
            [stay for stay in stays if stay.tub == tub.number],
            [attempt for attempt in attempts if attempt.tub == tub.number],
            at,
            rinses=tub.number in in_use - degreasing,
        )
        for tub in list_tubs(book)
        if number in (None, tub.number)
    )


def _tub_today(
    book: Logbook,
    tub: Tub,
    stays: Sequence[Stay],
    attempts: Sequence[Attempt],
    at: datetime,
    *,
    rinses: bool,
) -> TubToday:
    until = at + CLOCKS_APART
    recent = list_readings(book, tub.number, since=at - RECENT, until=until)
    hazes = [reading for reading in recent if reading.attenuation_per_m is not None]
    haze = hazes[-1] if hazes else _newest(book, tub.number, "attenuation_per_m", until)
    bath = bath_at(book, tub.number, at)
    soak_since = min((stay.soak_since for stay in stays), default=None)
    since = _asked_since(book, tub.number, haze.taken_at if haze and not hazes else at, soak_since)
    asked = (
        recent
        if since == at - RECENT
        else list_readings(book, tub.number, since=since, until=until)
    )
    unentered = changes_among(book, tub.number, asked)
    fresh_since = max(
        [*([bath.filled_at] if bath else []), *(change.latest for change in unentered)],
        default=None,
    )
    return TubToday(
        at=at,
        tub=tub,
        haze=haze,
        trend_per_m_per_day=_trend(hazes, fresh_since),
        bath=bath,
        skulls=tuple(stay.skull for stay in stays),
        soak_since=soak_since,
        bone=_newest(book, tub.number, "bone_yi_e313", until, soak_since),
        unentered=unentered,
        refused=_refused_since(attempts, haze),
        rinses=rinses,
        emptied_at=emptied_at(book, tub.number),
    )


def _asked_since(book: Logbook, tub: int, at: datetime, soak_since: datetime | None) -> datetime:
    """Return from when on changes that nobody entered are asked about.

    The month before a time, and the whole of the present soak as far as its fit tells.
    """
    fitted = read_unlogged(book, tub)
    found = fitted.found if fitted and soak_since else ()
    of_soak = (one.earliest for one in found if soak_since and one.earliest >= soak_since)
    return min([at - RECENT, *of_soak])


def _refused_since(attempts: Sequence[Attempt], haze: LoggedReading | None) -> Attempt | None:
    """Return the newest refused photo that no reading follows."""
    later = [one for one in attempts if haze is None or _taken_at(one) > haze.taken_at]
    return later[-1] if later else None


def _taken_at(attempt: Attempt) -> datetime:
    """Return when a refused photo was taken, or first tried where that is not known."""
    return attempt.taken_at or attempt.tried_at


def _newest(
    book: Logbook, tub: int, column: str, until: datetime, since: datetime | None = None
) -> LoggedReading | None:
    rest = (
        f"WHERE tub = ? AND wrong = 0 AND {column} IS NOT NULL AND taken_at >= ?"
        " AND taken_at < ? ORDER BY taken_at DESC LIMIT 1"
    )
    span = (to_text(since) if since else "", to_text(until))
    found = select(book, LoggedReading, READINGS, rest, (tub, *span))
    return found[0] if found else None


def _trend(hazes: Sequence[LoggedReading], since: datetime | None) -> float | None:
    """Return the slope of the haze [1/m per day] over the last week; None where it is unsure."""
    if not hazes:
        return None
    start = max(hazes[-1].taken_at - TREND_SPAN, since or hazes[0].taken_at)
    used = [one for one in hazes if one.taken_at >= start and one.bound is None]
    days = [(one.taken_at - start) / timedelta(days=1) for one in used]
    if len(set(days)) < 2:
        return None
    slope, slope_std = _line(
        days,
        [one.attenuation_per_m or 0.0 for one in used],
        [one.attenuation_std_per_m or 0.0 for one in used],
    )
    is_sure = SURE_STDS * slope_std <= max(abs(slope), FLAT_PER_M_PER_DAY)
    return slope if is_sure else None


def _line(x: list[float], y: list[float], y_std: list[float]) -> tuple[float, float]:
    """Return the least-squares slope of y over x, and its error by the errors of y."""
    from statistics import fmean, linear_regression  # noqa: PLC0415 - keeps start-up light

    apart = [one - fmean(x) for one in x]
    spread = hypot(*(far * std for far, std in zip(apart, y_std, strict=True)))
    return linear_regression(x, y).slope, spread / hypot(*apart) ** 2


def logbook_mark(book: Logbook) -> tuple[int | None, ...]:
    """Return a mark that differs after any entry, correction, photo or undoing.

    Parameters
    ----------
    book : Logbook
        Where to look.
    """
    [mark] = book.rows("SELECT max(number) FROM links")  # each of them writes a link
    return mark
