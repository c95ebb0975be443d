"""Which skulls give a tub its grease: those in it, those that left, and where they were before."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from greasecheck.logbook.skulls.skulls import skull_named
from greasecheck.logbook.skulls.stays import rinse_soaks, stays_in, stays_of
from greasecheck.logbook.water.baths import bath_at
from greasecheck.model import BodyCondition
from greasecheck.predict.records import EarlierSoak, SoakingSkull
from greasecheck.predict.tables import UNKNOWN_SPECIES

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import datetime

    from greasecheck.logbook.skulls.stays import Stay
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.predict.records import TubHistory

MOMENT = timedelta(seconds=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class TubStory:
    """The skulls of a tub's present soak.

    Attributes
    ----------
    since : datetime.datetime
        When the story begins: with the first skull that those in it now ever shared the tub with.
    stays : tuple of Stay
        Each skull's stay in this tub.
    """

    since: datetime
    stays: tuple[Stay, ...]


def tub_story(book: Logbook, tub: int, now: datetime) -> TubStory | None:
    """Return the skulls of a tub's present soak; None without a skull that degreases in it."""
    rinsing = rinse_soaks(book)
    here = [
        stay
        for stay in stays_in(book, tub)
        if stay.tub == tub and stay.since <= now and (stay.skull, stay.soak_since) not in rinsing
    ]
    present = [stay for stay in here if not _left(stay, now)]
    if not present:
        return None
    since = min(stay.since for stay in present)
    while True:
        here_then = [stay for stay in here if not _left(stay, since)]
        first = min(stay.since for stay in here_then)
        if first == since:
            return TubStory(since=since, stays=tuple(here_then))
        since = first


def _left(stay: Stay, at: datetime) -> bool:
    return stay.until is not None and stay.until <= at


def story_skulls(
    book: Logbook,
    story: TubStory,
    now: datetime,
    history_of: Callable[[Logbook, int, datetime], TubHistory | None],
) -> tuple[SoakingSkull, ...]:
    """Return the skulls of a story as the forecast takes them.

    Parameters
    ----------
    book : Logbook
        Where to look.
    story : TubStory
        From `tub_story`.
    now : datetime.datetime
        Zone-aware.
    history_of : callable
        Makes the history of another tub as of a time, for skulls that soaked there before.
    """
    skulls = {stay.skull: skull_named(book, stay.skull) for stay in story.stays}
    return tuple(
        SoakingSkull(
            name=stay.skull,
            species=skulls[stay.skull].species or UNKNOWN_SPECIES,
            since=stay.since,
            until=stay.until if _left(stay, now) else None,
            condition=skulls[stay.skull].condition or BodyCondition.UNKNOWN,
            earlier=_earlier(book, stay, history_of),
        )
        for stay in story.stays
    )


def _earlier(
    book: Logbook,
    stay: Stay,
    history_of: Callable[[Logbook, int, datetime], TubHistory | None],
) -> tuple[EarlierSoak, ...]:
    """Return the tub that a skull came from; that tub's history holds those before it."""
    before = _before(stays_of(book, stay.skull), stay)
    if before is None or before.until is None or bath_at(book, before.tub, before.until) is None:
        return ()
    history = history_of(book, before.tub, before.until - MOMENT)
    if history is None or not any(skull.name == stay.skull for skull in history.skulls):
        return ()
    return (EarlierSoak(tub=history, until=before.until),)


def _before(stays: Sequence[Stay], stay: Stay) -> Stay | None:
    """Return the stay from which a skull was moved here."""
    of_soak = [one for one in stays if one.soak_since == stay.soak_since and one.since < stay.since]
    return of_soak[-1] if of_soak else None
