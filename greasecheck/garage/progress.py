"""Progress of long work: the caller shows it, or nobody does."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol, TypeVar

if TYPE_CHECKING:
    from collections.abc import Iterator

Item = TypeVar("Item")


class Progress(Protocol):
    """Passes items on and shows how many of `total` went through."""

    def __call__(self, items: Iterator[Item], total: int, doing: str) -> Iterator[Item]:
        """Pass the items on."""


def quiet(items: Iterator[Item], total: int, doing: str) -> Iterator[Item]:
    """Pass the items on and show nothing."""
    return items
