"""What is kept of the answers about running soaks, with its age: quick to read, nothing heavy."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from greasecheck.garage.soaks.coding import from_json
from greasecheck.garage.soaks.model_version import answers_version
from greasecheck.logbook.answers import answer_keys, read_answers

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping
    from datetime import datetime

    from greasecheck.logbook.store.book import Logbook
    from greasecheck.model.reasons import ReasonCode
    from greasecheck.model.verdicts import ChangeVerdict, DoneVerdict, StallVerdict


ODDS_STEP = 0.05  # between the odds that dates are kept of; in tenths they are told


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptDates:
    """When a skull is degreased, in short.

    Attributes
    ----------
    origin : datetime.datetime
        The time that days are counted from.
    days : tuple of (float or None)
        By when with each of the odds 0.05, 0.1 to 0.95; None beyond ten years.
    """

    origin: datetime
    days: tuple[float | None, ...]

    def probability_by(self, when: datetime) -> float:
        """Return the probability, 0 to 1, that it is degreased by `when`.

        Examples
        --------
        >>> from datetime import UTC, datetime, timedelta
        >>> start = datetime(2026, 3, 1, tzinfo=UTC)
        >>> kept = KeptDates(origin=start, days=(10.0, 20.0, 40.0, None))
        >>> [round(kept.probability_by(start + timedelta(days=day)), 3) for day in (5, 15, 90)]
        [0.0, 0.075, 0.15]
        """
        limit = (when - self.origin) / timedelta(days=1)
        known = [day for day in self.days if day is not None]
        reached = bisect_right(known, limit)
        if not 0 < reached < len(known):
            return reached * ODDS_STEP
        before, after = known[reached - 1 : reached + 1]
        return (reached + (limit - before) / (after - before)) * ODDS_STEP


@dataclass(frozen=True, slots=True, kw_only=True)
class SkullAnswer:
    """Whether a skull is done, in short; names as in `predict.advice.done.DoneAdvice`.

    `dates` are None where they are withheld, for the reason given.
    """

    name: str
    verdict: DoneVerdict
    probability_clear: float
    clear_at: datetime | None
    surely_clear_at: datetime | None
    yellow_patch_share: float | None = None
    probability_degreased: float | None = None
    degreased_at: datetime | None = None
    surely_degreased_at: datetime | None = None
    dates: KeptDates | None = None
    withheld: ReasonCode | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Brief:
    """The answers about a tub, in short.

    Attributes
    ----------
    clear_at : tuple of (datetime.datetime or None)
        By when the water is clear with 1 in 10, 1 in 2 and 9 in 10; None beyond ten years, or
        withheld.
    probability_clear_now : float
        0 to 1.
    change : ChangeVerdict
        Whether to change the water today.
    stall : StallVerdict
        What the pace of leaching indicates.
    stall_began_at : datetime.datetime or None
        Since when it leaches too slowly.
    stall_causes : tuple of ReasonCode
        What to look at, the likeliest first.
    skulls : tuple of SkullAnswer
        Each skull.
    stall_rate_share : float or None
        Leaching since the stall began over what was expected.
    leach_share : float or None
        Leaching now over that in fresh water, 0 to 1.
    bath_age_days : float or None
        Since the last change [days].
    degreased_at : tuple of (datetime.datetime or None)
        By when the last skull is degreased with 1 in 10, 1 in 2 and 9 in 10.
    probability_degreased_now : float or None
        0 to 1; None in answers of an older version, like what follows.
    grease_left_share : tuple of float or None
        10 %, 50 % and 90 % quantiles of the share left, of the skull with most.
    withheld : ReasonCode or None
        Why the dates are withheld; None while they stand.
    """

    clear_at: tuple[datetime | None, ...]
    probability_clear_now: float
    change: ChangeVerdict
    stall: StallVerdict
    stall_began_at: datetime | None
    stall_causes: tuple[ReasonCode, ...]
    skulls: tuple[SkullAnswer, ...]
    stall_rate_share: float | None = None
    leach_share: float | None = None
    bath_age_days: float | None = None
    degreased_at: tuple[datetime | None, ...] = (None, None, None)
    probability_degreased_now: float | None = None
    grease_left_share: tuple[float, float, float] | None = None
    withheld: ReasonCode | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What is kept about a tub.

    Attributes
    ----------
    tub : int
        The tub.
    made_at : datetime.datetime
        The time as of which it was worked out.
    stale : bool
        Whether it is overtaken or too old.
    overtaken : bool
        Whether something that it rests on has been entered since.
    brief : Brief or None
        The answers; None where nothing could be worked out.
    fault : str or None
        Why nothing could be worked out.
    """

    tub: int
    made_at: datetime
    stale: bool
    overtaken: bool
    brief: Brief | None
    fault: str | None = None

    def age(self, now: datetime) -> timedelta:
        """Return how long before `now` it was worked out."""
        return now - self.made_at


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptBrief:
    """What is written into the logbook as the short answer."""

    brief: Brief | None
    fault: str | None


def kept_answers(book: Logbook, tubs: Collection[int], now: datetime) -> Mapping[int, Answer]:
    """Return what is kept about some tubs, fresh or stale; tubs without an answer are left out.

    Parameters
    ----------
    book : Logbook
        Where to look.
    tubs : collection of int
        Their numbers.
    now : datetime.datetime
        Zone-aware.
    """
    kept = read_answers(book, *(tubs if len(tubs) == 1 else ()))
    keys = answer_keys(book, [tub for tub in tubs if tub in kept], answers_version(book))
    found = {}
    for tub, key in keys.items():
        one = kept[tub]
        short = _read_brief(one.brief)
        if short is None:
            continue
        overtaken = one.key != key
        found[tub] = Answer(
            tub=tub,
            made_at=one.made_at,
            stale=overtaken or not one.made_at <= now <= one.good_until,
            overtaken=overtaken,
            brief=short.brief,
            fault=short.fault,
        )
    return found


def standing_briefs(book: Logbook, tubs: Collection[int], now: datetime) -> dict[int, Brief | None]:
    """Return what is kept about tubs as `kept_answers` does, where no entry has overtaken it."""
    found = kept_answers(book, tubs, now)
    return {tub: one.brief for tub, one in found.items() if not one.overtaken}


def kept_dates(answers: Iterable[Answer]) -> dict[str, KeptDates]:
    """Return when each skull is degreased by its name, of those whose dates are kept."""
    skulls = [one for answer in answers if answer.brief for one in answer.brief.skulls]
    return {one.name: one.dates for one in skulls if one.dates is not None}


def _read_brief(brief: str) -> KeptBrief | None:
    """Return the content of a short answer; None when another version wrote it in another form."""
    try:
        kept: KeptBrief = from_json(brief)
    except (AttributeError, ImportError, KeyError, TypeError, ValueError):
        return None
    return kept
