"""Processes that measure photos: begun once, kept for whatever comes."""

from __future__ import annotations

import os
import signal
import threading
from concurrent.futures import ProcessPoolExecutor
from importlib import import_module
from multiprocessing import get_all_start_methods, get_context, parent_process
from tempfile import gettempdir
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from concurrent.futures import Future
    from types import ModuleType
    from typing import TypeVar

    Item = TypeVar("Item")
    Result = TypeVar("Result")

FEWEST = 3  # items; fewer are done before another process is ready
AHEAD = 4  # photos handed out beyond those being read, so that a stop wastes little
READING = "greasecheck.measure.reading"
# What multiprocessing puts after the folder of temporary files, and the longest path of a socket:
# sun_path holds 104 bytes on macOS and 108 on Linux (unix(4), unix(7)), the last one a zero.
SOCKET_NAME, MOST_SOCKET_LETTERS = "/pymp-12345678/listener-12345678", 103


class Workers:
    """Processes, which begin with the first work that is worth it and end with a `with` block.

    Parameters
    ----------
    count : int, optional
        How many; as many as there are cores without it.
    needed : str
        The module that the work needs; imported once for all, where processes can be forked.
    """

    def __init__(self, count: int | None = None, needed: str = READING) -> None:
        self._needed = needed
        self._count = count or os.cpu_count() or 1
        self._pool: ProcessPoolExecutor | None = None
        self._beginning: threading.Thread | None = None
        self._ready: list[Future[ModuleType]] = []

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self._beginning is not None:
            self._beginning.join()
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)

    def prepare(self, items: int) -> None:
        """Begin the processes, where so many items are worth it, and do not wait for them.

        Parameters
        ----------
        items : int
            How many will come.
        """
        if self._beginning is None and self._count > 1 and items >= FEWEST:
            self._beginning = threading.Thread(target=self._begin)
            self._beginning.start()

    def map(self, work: Callable[[Item], Result], items: Sequence[Item]) -> Iterator[Result]:
        """Apply `work` to items, in order; by this process, too, until another is ready.

        Parameters
        ----------
        work : callable
            Must be picklable, as must what it returns.
        items : sequence
            What it takes.
        """
        self.prepare(len(items))
        place = 0
        while place < len(items) and not any(ready.done() for ready in self._ready):
            yield work(items[place])
            place += 1
        if place < len(items) and self._pool is not None:
            yield from self._in_order(self._pool, work, items[place:])

    def _begin(self) -> None:
        """Begin the processes; the first is there once what they need is imported."""
        pool = process_pool(self._count, self._needed)
        ready = [pool.submit(import_module, self._needed) for _ in range(self._count)]
        self._pool, self._ready = pool, ready

    def _in_order(
        self, pool: ProcessPoolExecutor, work: Callable[[Item], Result], items: Sequence[Item]
    ) -> Iterator[Result]:
        """Keep a few items ahead of the one waited for."""
        ahead = self._count + AHEAD
        waiting = [pool.submit(work, item) for item in items[:ahead]]
        try:
            for following in range(len(items)):
                result = waiting.pop(0).result()
                if following + ahead < len(items):
                    waiting.append(pool.submit(work, items[following + ahead]))
                yield result
        finally:
            for future in waiting:
                future.cancel()


def process_pool(
    count: int, needed: str = READING, begin: Callable[[], None] | None = None
) -> ProcessPoolExecutor:
    """Return a pool whose processes are forked, where they can be, from one that did the imports.

    Parameters
    ----------
    count : int
        How many processes.
    needed : str
        The module that the work needs; of several pools of one process, the first decides.
    begin : callable, optional
        What a process does first, instead of `begin_worker`.
    """
    context = get_context("forkserver" if _can_fork() else "spawn")
    context.set_forkserver_preload([needed])
    return ProcessPoolExecutor(count, context, initializer=begin or begin_worker)


def _can_fork() -> bool:
    """Whether a fork server can be had: its socket lies in a file, whose path must be short."""
    longest = os.fsencode(gettempdir() + SOCKET_NAME)
    return "forkserver" in get_all_start_methods() and len(longest) <= MOST_SOCKET_LETTERS


def begin_worker() -> None:
    """Use one core, leave Ctrl-C to the parent, and end when the parent does, even when killed."""
    import cv2  # noqa: PLC0415 - the parent may not need it

    cv2.setNumThreads(1)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
