"""Works out answers about running soaks, each once, and keeps them."""

from __future__ import annotations

import time
import zlib
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import partial
from typing import TYPE_CHECKING

from greasecheck.errors import GreasecheckError
from greasecheck.garage.series import degreasing_tubs, finished_tubs, skull_bones, tub_history
from greasecheck.garage.soaks.answers import (
    ODDS_STEP,
    Answer,
    Brief,
    KeptBrief,
    KeptDates,
    SkullAnswer,
    kept_answers,
)
from greasecheck.garage.soaks.coding import from_json, to_json
from greasecheck.garage.soaks.kept import keep_fit
from greasecheck.garage.soaks.model_version import answers_version
from greasecheck.garage.soaks.past import running_soak
from greasecheck.garage.soaks.prices import at_prices, set_prices
from greasecheck.logbook.answers import (
    KeptAnswer,
    answer_keys,
    claim,
    keep_answer,
    read_whole,
    release,
)
from greasecheck.logbook.records import ProbableChange
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import list_tubs
from greasecheck.measure.workers import Workers
from greasecheck.model.reasons import CAUSES
from greasecheck.model.verdicts import ChangeVerdict
from greasecheck.predict.advice.change_interval import DUE_WITHIN, usual_cost
from greasecheck.predict.advice.decisions import advise
from greasecheck.predict.model.arrhenius import REFERENCE_C

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence, Set
    from datetime import datetime
    from pathlib import Path

    from greasecheck.logbook.records import Tub
    from greasecheck.predict.advice.change_interval import ChangeCost
    from greasecheck.predict.advice.decisions import TubAdvice
    from greasecheck.predict.fit.tub_fit import TubFit
    from greasecheck.predict.forecast_records import ClearDates
    from greasecheck.predict.records import ClearRule, FinishedTub, TubHistory

# Dates move by as much as an answer is old; twice as long would move none by more than a day.
SERVES_FOR = timedelta(hours=12)
QUANTILES = (0.1, 0.5, 0.9)
WORTH_OTHERS = 8  # stale answers; fewer are worked out before other processes are ready
AT_ONCE = 4  # tubs that a process is given, as it looks up what they share
LOOK_AGAIN_S = 0.1  # while another process works on the same answer


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A tub to advise on, its key before any row was read, and what all tubs rest on."""

    tub: Tub
    key: str
    finished: Sequence[FinishedTub]


def advice_of_tubs(
    book: Logbook, numbers: Sequence[int], now: datetime
) -> Iterator[tuple[int, TubAdvice | None]]:
    """Yield each tub with its advice, kept or worked out; None where nothing degreases.

    Parameters
    ----------
    book : Logbook
        Where to look, and to keep what is worked out.
    numbers : sequence of int
        The tubs.
    now : datetime.datetime
        Zone-aware.

    Raises
    ------
    ForecastError
        As `advise` does.
    """
    soaking = degreasing_tubs(book, now)
    for number, advice in _found(book, numbers, soaking, now):
        if advice is None and number in soaking:
            yield number, _advise_one(book, number, now)  # raises why there is none
        else:
            yield number, advice


def found_advice(
    book: Logbook, numbers: Sequence[int], now: datetime
) -> Iterator[tuple[int, TubAdvice | None]]:
    """Yield each tub with its advice; None, too, where `advice_of_tubs` would raise."""
    return _found(book, numbers, degreasing_tubs(book, now), now)


def _found(
    book: Logbook, numbers: Sequence[int], soaking: Set[int], now: datetime
) -> Iterator[tuple[int, TubAdvice | None]]:
    fresh = {tub for tub, one in kept_answers(book, numbers, now).items() if not one.stale}
    stale = [number for number in numbers if number in soaking - fresh]
    worked_out = _worked_out(book, stale, now)
    for number in numbers:
        if number in fresh:
            yield number, _kept(book, number, now)
        else:
            yield number, next(worked_out)[1] if number in soaking else None


def refresh_answers(book: Logbook, numbers: Sequence[int], now: datetime) -> Iterator[Answer]:
    """Work out the answers about some tubs that are stale or missing; yield each when done.

    They are kept, too, except for those as of a time before the newest entry about their tub.

    Parameters
    ----------
    book : Logbook
        Where to look and to keep.
    numbers : sequence of int
        The tubs; those that another process works on are waited for.
    now : datetime.datetime
        Zone-aware.
    """
    for number, advice in _worked_out(book, numbers, now):
        kept = None if advice else kept_answers(book, [number], now).get(number)
        yield Answer(
            tub=number,
            made_at=now,
            stale=False,
            overtaken=False,
            brief=brief_of(advice) if advice else None,
            fault=kept.fault if kept else None,
        )


def _worked_out(
    book: Logbook, numbers: Sequence[int], now: datetime
) -> Iterator[tuple[int, TubAdvice | None]]:
    """Work out the advice on some tubs, where they are many in several processes."""
    some = [numbers[place : place + AT_ONCE] for place in range(0, len(numbers), AT_ONCE)]
    with Workers(None if len(numbers) >= WORTH_OTHERS else 1, __name__) as workers:
        found = workers.map(partial(_advise_few, book.path, book.as_of, now), some)
        for few, advice in zip(some, found, strict=True):
            yield from zip(few, advice, strict=True)


def _advise_few(
    logbook: Path, as_of: datetime | None, now: datetime, numbers: Sequence[int]
) -> tuple[TubAdvice | None, ...]:
    """Advise on some tubs; None for one that cannot be. Runs in a worker process."""
    found: list[TubAdvice | None] = []
    with Logbook(logbook, as_of=as_of) as book:
        for asked in _asked(book, numbers):
            try:
                found.append(_advice(book, asked, now))
            except GreasecheckError:
                found.append(None)  # whoever asks meets it again
    return tuple(found)


def _advise_one(book: Logbook, number: int, now: datetime) -> TubAdvice | None:
    [asked] = _asked(book, [number])
    return _advice(book, asked, now)


def _asked(book: Logbook, numbers: Sequence[int]) -> Iterator[Asked]:
    keys = answer_keys(book, numbers, answers_version(book))
    tubs, finished = {tub.number: tub for tub in list_tubs(book)}, finished_tubs(book)
    return (Asked(tub=tubs[number], key=keys[number], finished=finished) for number in numbers)


def _advice(book: Logbook, asked: Asked, now: datetime) -> TubAdvice | None:
    number = asked.tub.number
    kept = _kept(book, number, now)
    if kept is not None or number not in degreasing_tubs(book, now):
        return kept
    with _claimed(book, number):  # another process may have worked it out until now
        return _kept(book, number, now) or _work_out(book, asked, now)


@contextmanager
def _claimed(book: Logbook, number: int) -> Iterator[None]:
    while not claim(book, number):
        time.sleep(LOOK_AGAIN_S)
    try:
        yield
    finally:
        release(book, number)


def _kept(book: Logbook, number: int, now: datetime) -> TubAdvice | None:
    answer = kept_answers(book, [number], now).get(number)
    whole = read_whole(book, number) if answer and not answer.stale else None
    if whole is None:
        return None
    advice: TubAdvice = from_json(zlib.decompress(whole).decode())
    return advice


def _work_out(book: Logbook, asked: Asked, now: datetime) -> TubAdvice | None:
    number, key = asked.tub.number, asked.key
    history = tub_history(book, number, now)
    if history is None:
        return None
    try:
        advice = advise_by_log(book, asked.tub, history, asked.finished, now)
    except GreasecheckError as error:
        _keep(book, _kept_answer(number, key, now, None, error.problem), None)
        raise
    if advice.fit is not None and not asked.finished:  # recipes are compared without these
        _keep_fit(book, number, history, advice.fit)
    lasting = replace(advice, fit=None)  # the fit itself is too large to hold for many tubs
    _keep(book, _kept_answer(number, key, now, lasting, None), lasting)
    return lasting


def advise_by_log(
    book: Logbook,
    tub: Tub,
    history: TubHistory,
    finished: Sequence[FinishedTub],
    now: datetime,
    *,
    rule: ClearRule | None = None,
) -> TubAdvice:
    """Return the advice on a tub, worked out by its history and what else the logbook holds."""
    return advise(
        history,
        now,
        bones=skull_bones(book, tub.number, now),
        cost=at_prices(_bath_cost(history, tub, now), set_prices(book)),
        rule=rule,
        finished=finished,
        checked_at=tub.checked_at,
    )


def _keep_fit(book: Logbook, number: int, history: TubHistory, fit: TubFit) -> None:
    soak = running_soak(book, number, fit.now)
    if soak is not None and soak.history == history:
        keep_fit(book, soak, fit)


def _kept_answer(
    number: int, key: str, now: datetime, advice: TubAdvice | None, fault: str | None
) -> KeptAnswer:
    kept = KeptBrief(brief=brief_of(advice) if advice else None, fault=fault)
    good_until = now + SERVES_FOR
    if advice is not None and advice.change.verdict is ChangeVerdict.WAIT:
        good_until = min(good_until, advice.change.due_at - DUE_WITHIN)
    return KeptAnswer(
        tub=number,
        key=key,
        made_at=now,
        good_until=good_until,
        brief=to_json(kept),
        unlogged=_unlogged(number, advice) if advice else None,
    )


def _unlogged(number: int, advice: TubAdvice) -> tuple[ProbableChange, ...]:
    return tuple(
        ProbableChange(
            tub=number,
            earliest=one.after,
            latest=one.before,
            before_per_m=one.before_per_m,
            after_per_m=one.before_per_m - one.fall_per_m,
        )
        for one in advice.forecast.unlogged_changes
    )


def _keep(book: Logbook, answer: KeptAnswer, advice: TubAdvice | None) -> None:
    keep_answer(book, answer, zlib.compress(to_json(advice).encode()) if advice else None)


def brief_of(advice: TubAdvice) -> Brief:
    """Return the answers about a tub in short."""
    return Brief(
        clear_at=_three(advice.runs_clear),
        probability_clear_now=advice.forecast.probability_clear_now,
        change=advice.change.verdict,
        stall=advice.stall.verdict,
        stall_began_at=advice.stall.began_at,
        stall_causes=tuple(one.code for one in advice.stall.reasons if one.code in CAUSES),
        skulls=tuple(
            SkullAnswer(
                name=skull.name,
                verdict=skull.verdict,
                probability_clear=skull.probability_clear,
                clear_at=skull.clear_at,
                surely_clear_at=skull.surely_clear_at,
                yellow_patch_share=skull.bone.yellow_patch_share,
                probability_degreased=skull.probability_degreased,
                degreased_at=skull.degreased_at,
                surely_degreased_at=skull.surely_degreased_at,
                dates=_kept_dates(advice.skull_dates.get(skull.name)),
                withheld=skull.withheld,
            )
            for skull in advice.skulls
        ),
        stall_rate_share=advice.stall.rate_share,
        leach_share=advice.change.leach_share,
        bath_age_days=advice.change.bath_age_days,
        degreased_at=_three(advice.degreased),
        probability_degreased_now=advice.probability_degreased_now,
        grease_left_share=advice.forecast.grease_left_share,
        withheld=advice.withheld,
    )


def _kept_dates(dates: ClearDates | None) -> KeptDates | None:
    if dates is None:
        return None
    odds = (step * ODDS_STEP for step in range(1, round(1 / ODDS_STEP)))
    by = [dates.quantile(share) for share in odds]
    days = (None if one is None else (one - dates.origin) / timedelta(days=1) for one in by)
    days_kept = tuple(None if day is None else round(day, 2) for day in days)
    return KeptDates(origin=dates.origin, days=days_kept)


def _three(dates: ClearDates | None) -> tuple[datetime | None, ...]:
    return tuple(dates.quantile(share) if dates else None for share in QUANTILES)


def _bath_cost(history: TubHistory, tub: Tub, now: datetime) -> ChangeCost:
    """Return what a bath like the present one costs by the table."""
    bath = max((change for change in history.changes if change.at <= now), key=lambda c: c.at)
    warm_c = REFERENCE_C if bath.temperature_c is None else bath.temperature_c
    return usual_cost(bath.recipe, warm_c, volume_l=tub.volume_l)
