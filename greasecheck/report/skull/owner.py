"""Renders one page for a skull's owner: what was done, when, with what, and how it looks."""

from __future__ import annotations

from base64 import b64encode
from dataclasses import dataclass
from typing import TYPE_CHECKING

from jinja2 import Environment, PackageLoader, StrictUndefined

from greasecheck.words.figures import patch_share_words
from greasecheck.words.times import day_words

if TYPE_CHECKING:
    from datetime import datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """Something that was done: when, until when if several times, and in words."""

    at: datetime
    until: datetime | None
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LookLine:
    """A look in figures, as the owner's page lists it."""

    at: datetime
    sides: int
    yi_e313: float
    yi_std: float
    yellow_patch_share: float | None
    yellow_share_std: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnersPage:
    """What the page shows.

    Attributes
    ----------
    name, species : str or None
        Of the skull.
    steps : tuple of Step
        What was done, oldest first.
    looks : tuple of LookLine
        How it looked.
    strip : bytes or None
        The looks side by side, a PNG file's content.
    absolute : bool
        Whether the yellowness rests on measured patch values.
    """

    name: str
    species: str | None
    steps: tuple[Step, ...]
    looks: tuple[LookLine, ...]
    strip: bytes | None
    absolute: bool


def owners_page(page: OwnersPage) -> str:
    """Return the page as HTML: one file, no script, no network; every text is escaped."""
    found = Environment(
        loader=PackageLoader("greasecheck.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    found.filters.update(day=day_words, patches=patch_share_words)
    strip = b64encode(page.strip).decode() if page.strip else None
    return found.get_template("owner.html.j2").render(page=page, strip=strip)
