"""Linear algebra on one thread, whatever the process that asks has set."""

from __future__ import annotations

from functools import lru_cache, wraps
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
        What to run so; the process has its threads back afterwards.
    """

    @wraps(function)
    def alone(*args: Asked.args, **kwargs: Asked.kwargs) -> Answer:
        with _libraries().limit(limits=1, user_api="blas"):
            return function(*args, **kwargs)

    return alone


@lru_cache(maxsize=1)
def _libraries() -> ThreadpoolController:
    return ThreadpoolController()
