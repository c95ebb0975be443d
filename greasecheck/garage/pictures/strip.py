"""A skull's looks side by side, from the photos that are still there."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from greasecheck.garage.pictures.cut_outs import cut_outs, file_there
from greasecheck.report.skull.strip import StripLook, strip_png
from greasecheck.words.figures import patch_share_words
from greasecheck.words.times import day_words

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from greasecheck.garage.pictures.cut_outs import CutOut
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.measure.reading import ReadSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """A strip as a PNG file's content, how many looks it shows, and how many lack a photo."""

    png: bytes
    looks: int
    gone: int


def skull_strip(
    book: Logbook,
    name: str,
    settings: ReadSettings,
    file_of: Callable[[str], Path | None] = file_there,
) -> Strip | None:
    """Draw a skull's looks side by side: cut out, turned alike, under one white.

    Parameters
    ----------
    book, name, settings, file_of
        As for `cut_outs`.

    Returns
    -------
    Strip or None
        None when no reading names the skull.
    """
    return strip_of(cut_outs(book, name, settings, file_of))


def strip_of(cuts: Sequence[CutOut]) -> Strip | None:
    """Draw cut-outs side by side; None without any."""
    if not cuts:
        return None
    gone = sum(one.rgb is None for one in cuts)
    return Strip(png=strip_png([_look(one) for one in cuts]), looks=len(cuts), gone=gone)


def _look(one: CutOut) -> StripLook:
    look = one.look
    share, share_std = look.yellow_patch_share, look.yellow_share_std
    return StripLook(
        rgb=one.rgb,
        mask=one.mask,
        lines=(
            day_words(look.at),
            f"YI {look.yi_e313:.0f} ± {look.yi_std:.0f}",
            "" if share is None else f"yellow {patch_share_words(share, share_std)}",
        ),
    )
