"""Notices of a camera's round as codes; `greasecheck.words.photos.camera` has the words."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class NoticeKind(StrEnum):
    """What happened in a round."""

    NO_PICTURE = "no picture"
    NOT_KEPT = "not kept"
    UNREADABLE = "unreadable"
    NO_LADDER = "no ladder"
    MOVED = "camera moved"
    WATER_CHANGED = "water changed"
    LEVEL_FALLS = "level falls"


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """A notice: of what kind, of which tub, how much [mm], and details of a failure."""

    kind: NoticeKind
    tub: int | None = None
    amount_mm: float | None = None
    problem: str = ""
    hint: str = ""
