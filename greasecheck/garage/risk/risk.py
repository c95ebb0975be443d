"""What whitened skulls teach of yellowing, how far to trust it, which photos would teach more."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from greasecheck.garage.risk.cases import Standing, skull_cases
from greasecheck.predict.yellowing.prior import yellowing_prior_words
from greasecheck.predict.yellowing.regression import learn_yellowing
from greasecheck.predict.yellowing.risk import follow_up_values
from greasecheck.predict.yellowing.validation import check_yellowing
from greasecheck.words.risk import photos_words, trust_words, untaught_words

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from greasecheck.garage.risk.cases import SkullCase
    from greasecheck.garage.soaks.past import PastSoak
    from greasecheck.logbook.skulls.soaks import Soak
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.predict.yellowing.records import (
        FinishedSkull,
        FollowUpValue,
        Measured,
        ModelCheck,
    )
    from greasecheck.predict.yellowing.regression import YellowingModel

MOST_PHOTOS = 5
LEAST_BITS = 0.002  # less is not worth a photo


@dataclass(frozen=True, slots=True, kw_only=True)
class Lessons:
    """What the skulls of a logbook teach of yellowing.

    Attributes
    ----------
    cases : tuple of SkullCase
        Each skull once, by its last soak.
    model : YellowingModel
        Learned from the whitened ones.
    check : ModelCheck or None
        How well it predicts those it has not seen; None when they are too few.
    photos : tuple of FollowUpValue
        The follow-up photos that would teach most.
    """

    cases: tuple[SkullCase, ...]
    model: YellowingModel
    check: ModelCheck | None
    photos: tuple[FollowUpValue, ...]


def learn(
    book: Logbook,
    soaks: Sequence[PastSoak],
    now: datetime,
    left: Mapping[Soak, Measured],
) -> Lessons:
    """Learn of yellowing from the logbook.

    Parameters
    ----------
    book : Logbook
        Where to look.
    soaks : sequence of PastSoak
        From `greasecheck.garage.soaks.past.past_soaks`.
    now : datetime.datetime
        Zone-aware.
    left : mapping
        The share of grease that soaks left, from `greasecheck.garage.risk.left.grease_left`; of
        the others it counts as unmeasured.
    """
    every = skull_cases(book, soaks, now, left)
    cases = tuple({case.known.name: case for case in every}.values())
    whitened = _treated(every)
    model = learn_yellowing(whitened)
    return Lessons(
        cases=cases,
        model=model,
        check=check_yellowing(whitened),
        photos=_worth_a_photo(model, cases, now),
    )


def _treated(cases: Sequence[SkullCase]) -> list[FinishedSkull]:
    """Return each whitening of each skull, with what it teaches."""
    return [
        treated
        for case in cases
        if case.whitened_at is not None
        for treated in (*case.earlier, case.known)
    ]


def _worth_a_photo(
    model: YellowingModel, cases: Sequence[SkullCase], now: datetime
) -> tuple[FollowUpValue, ...]:
    """Return what follow-up photos of the whitened skulls still at hand would teach."""
    at_hand = [
        (case.known, (now - case.whitened_at) / timedelta(days=1))
        for case in cases
        if case.whitened_at is not None and case.standing is Standing.WHITENED
    ]
    values = follow_up_values(model, [known for known, _ in at_hand], [days for _, days in at_hand])
    return tuple(value for value in values if value.information_bits >= LEAST_BITS)


def photo_lines(lessons: Lessons) -> list[str]:
    """Return the follow-up photos that would teach most, in words."""
    return photos_words(
        [(one.name, photo_at(lessons.cases, one)) for one in lessons.photos[:MOST_PHOTOS]]
    )


def photo_at(cases: Sequence[SkullCase], photo: FollowUpValue) -> datetime:
    """Return when the photo is to be taken; only whitened skulls are asked for."""
    whitened = {case.known.name: case.whitened_at for case in cases if case.whitened_at}
    return whitened[photo.name] + timedelta(days=photo.day)


def trust_line(lessons: Lessons) -> str:
    """Return how far to trust the risks, in words."""
    model, check = lessons.model, lessons.check
    if not model.outcomes:
        return untaught_words(yellowing_prior_words())
    briers = None if check is None else (check.brier, check.brier_base_rate)
    return trust_words(model.outcomes, model.yellowed, briers)
