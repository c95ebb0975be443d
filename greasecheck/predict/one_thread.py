"""Linear algebra on one thread, whatever the process that asks has set."""

from __future__ import annotations

from functools import lru_cache, wraps
from threading import Lock
from typing import TYPE_CHECKING, ParamSpec, TypeVar

from threadpoolctl import ThreadpoolController

if TYPE_CHECKING:
    from collections.abc import Callable

Asked = ParamSpec("Asked")
Answer = TypeVar("Answer")


def on_one_thread(function: Callable[Asked, Answer]) -> Callable[Asked, Answer]:
    """Return a function that runs linear algebra on one thread.

    The matrices of a tub are small: threads gain nothing, and where another program has the core
    that one of them needs, all others wait for it and keep their own busy. On two busy cores a
    forecast took 13 to 27 times the processor's time of one thread.

    Parameters
    ----------
    function : callable
        What to run so; the process has its threads back when no such function runs any more.
    """

    @wraps(function)
    def alone(*args: Asked.args, **kwargs: Asked.kwargs) -> Answer:
        with ONE_THREAD:
            return function(*args, **kwargs)

    return alone


@lru_cache(maxsize=1)
def linear_algebra() -> ThreadpoolController:
    """Return what numpy and scipy work by, as loaded when first asked."""
    return ThreadpoolController().select(user_api="blas")


class _OneThread:
    """Keeps linear algebra to one thread from the first that enters to the last that leaves.

    A limit holds for the whole process, so those of two that overlap would undo each other.
    """

    def __init__(self) -> None:
        self._lock = Lock()
        self._inside = 0

    def __enter__(self) -> None:
        with self._lock:
            if not self._inside:
                self._limit = linear_algebra().limit(limits=1)
            self._inside += 1

    def __exit__(self, *_: object) -> None:
        with self._lock:
            self._inside -= 1
            if not self._inside:
                self._limit.restore_original_limits()


ONE_THREAD = _OneThread()
