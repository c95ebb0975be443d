"""Measures photos in other processes, which end when this one does, however it ends."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from concurrent.futures import BrokenExecutor, ProcessPoolExecutor
from functools import partial
from typing import TYPE_CHECKING, Self

from greasecheck.errors import LogbookError

if TYPE_CHECKING:
    from collections.abc import Callable
    from concurrent.futures import Future
    from pathlib import Path

    from greasecheck.model import Reading


class Pool:
    """Measures photos; use it in a `with` block.

    Parameters
    ----------
    measure : callable
        Turns a path into a Reading; picklable when `workers` is more than 1.
    workers : int
        Processes to use; 1 measures in this process, when the result is asked for.
    """

    def __init__(self, measure: Callable[[Path], Reading], workers: int) -> None:
        self._measure = measure
        # spawn: a forked child would share the logbook's open file and its locks
        self._executor = (
            ProcessPoolExecutor(
                workers,
                mp_context=multiprocessing.get_context("spawn"),
                initializer=_end_with_parent,
            )
            if workers > 1
            else None
        )

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self._executor is not None:
            self._executor.shutdown(cancel_futures=True)

    def submit(self, path: Path) -> Callable[[], Reading]:
        """Begin to measure `path`; return what waits for the result.

        Raises
        ------
        LogbookError
            When a measuring process ended by itself.
        """
        if self._executor is None:
            return partial(self._measure, path)
        return partial(_result, self._executor.submit(self._measure, path))


def _result(future: Future[Reading]) -> Reading:
    try:
        return future.result()
    except BrokenExecutor as error:
        raise LogbookError(
            "a measuring process ended by itself, perhaps for want of memory",
            hint="run it again with fewer workers; what was logged is safe",
        ) from error


def _end_with_parent() -> None:
    """Let Ctrl-C be the parent's business, and end when the parent is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_wait_for_parent, daemon=True).start()


def _wait_for_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
