"""Weighs the tubs in the background, so that no page waits for a forecast."""

from __future__ import annotations

import logging
import threading
from concurrent.futures import BrokenExecutor
from dataclasses import dataclass, field, replace
from datetime import timedelta
from functools import partial
from typing import TYPE_CHECKING

from greasecheck.garage.answers import tub_answer
from greasecheck.garage.season.parts import charts_of_tub, tub_parts
from greasecheck.live.tubs.curves import as_curve
from greasecheck.logbook.store.book import Logbook
from greasecheck.measure.workers import process_pool
from greasecheck.report.season.cards import advice_notes, tub_facts

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from concurrent.futures import Executor, Future
    from datetime import datetime
    from pathlib import Path

    from greasecheck.answers import TubAnswer
    from greasecheck.live.tubs.curves import Curve
    from greasecheck.logbook.today import TubToday
    from greasecheck.predict.forecast_records import ClearDates
    from greasecheck.report.season.records import Fact

    Mark = tuple[int | None, ...]

FAILED = "It could not be worked out; the terminal says why."
STALE = timedelta(hours=1)  # dates move by days; twice as long halves the work of an idle page


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """A tub's advice.

    Attributes
    ----------
    today : TubToday
        How the tub stood when it was weighed.
    answer : TubAnswer
        The answer about it.
    charts : tuple of Curve
        Its curves.
    facts : tuple of Fact
        Its figures.
    notes : tuple of str
        How far to trust them.
    dates : dict of str to ClearDates
        When each skull is degreased, for promises.
    mark : tuple
        The logbook's mark before it was weighed.
    """

    today: TubToday
    answer: TubAnswer
    charts: tuple[Curve, ...] = ()
    facts: tuple[Fact, ...] = ()
    notes: tuple[str, ...] = ()
    dates: dict[str, ClearDates] = field(default_factory=dict)
    mark: Mark = ()

    def fits(self, today: TubToday) -> bool:
        """Return whether the tub still stands as it did."""
        return replace(self.today, at=today.at) == today


def weigh(logbook: Path, number: int, now: datetime) -> Weighed:
    """Weigh one tub; runs in a worker process.

    Parameters
    ----------
    logbook : pathlib.Path
        The logbook.
    number : int
        The tub.
    now : datetime.datetime
        Zone-aware.
    """
    with Logbook(logbook) as book:
        [parts] = tub_parts(book, now, number)
    return Weighed(
        today=parts.today,
        answer=parts.answer,
        charts=tuple(as_curve(chart) for chart in charts_of_tub(parts, now)),
        facts=tub_facts(parts.today, parts.advice, parts.bones),
        notes=advice_notes(parts.advice) if parts.advice else (),
        dates=parts.advice.skull_dates if parts.advice else {},
    )


def one_worker() -> Executor:
    """Return a process of its own to weigh in, so that it slows no page down."""
    return process_pool(1)


class Weigher:
    """Keeps each tub's advice, and renews it when the tub stands otherwise or an hour passed.

    Parameters
    ----------
    logbook : pathlib.Path
        The logbook.
    make_executor : callable
        Gives what the work is done by.
    """

    def __init__(self, logbook: Path, make_executor: Callable[[], Executor] = one_worker) -> None:
        self._logbook = logbook
        self._make_executor = make_executor
        self._executor: Executor | None = None
        self._lock = threading.RLock()  # a future that is done already calls back at once
        self._done: dict[int, Weighed] = {}
        self._running: set[int] = set()

    def advice(self, tubs: Sequence[TubToday], mark: Mark) -> Mapping[int, Weighed]:
        """Return what is known of the tubs by number, and begin to weigh what is out of date.

        Parameters
        ----------
        tubs : sequence of TubToday
            How they stand now; those that no known advice fits are weighed first.
        mark : tuple
            The logbook's mark, asked before `tubs`.
        """
        with self._lock:
            old = [today for today in tubs if self._is_old(today, mark)]
            for today in sorted(old, key=self._has_fitting):
                self._begin(today, mark)
            return dict(self._done)

    def close(self) -> None:
        """Stop once what runs is done; what waits is dropped."""
        with self._lock:
            executor, self._executor = self._executor, None
        if executor is not None:
            executor.shutdown(cancel_futures=True)

    def _is_old(self, today: TubToday, mark: Mark) -> bool:
        number = today.tub.number
        known = self._done.get(number)
        if number in self._running:
            return False
        if known is None or known.mark != mark or not known.fits(today):
            return True
        return today.at - known.today.at > STALE

    def _has_fitting(self, today: TubToday) -> bool:
        known = self._done.get(today.tub.number)
        return known is not None and known.fits(today)

    def _begin(self, today: TubToday, mark: Mark) -> None:
        number = today.tub.number
        if self._executor is None:
            self._executor = self._make_executor()
        try:
            future = self._executor.submit(weigh, self._logbook, number, today.at)
        except BrokenExecutor:  # its process was killed; the next tub begins another
            self._executor = None
            return
        self._running.add(number)
        future.add_done_callback(partial(self._take, today, mark))

    def _take(self, today: TubToday, mark: Mark, future: Future[Weighed]) -> None:
        number = today.tub.number
        if future.cancelled():
            return
        fault = future.exception()
        with self._lock:
            self._running.discard(number)
            if fault is None:
                self._done[number] = replace(future.result(), mark=mark)
            elif isinstance(fault, BrokenExecutor):
                self._executor = None
            else:
                logging.getLogger(__name__).error("cannot weigh tub %s", number, exc_info=fault)
                answer = tub_answer(today, None, fault=FAILED, made_at=today.at)
                self._done[number] = Weighed(today=today, answer=answer, mark=mark)
