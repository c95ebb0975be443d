"""A tub's advice as plain JSON values."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.cli.shared.plain import plain, withheld_json
from greasecheck.words.notes import notes_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.garage.tub_advice import PatchPhoto
    from greasecheck.predict.advice.decisions import TubAdvice
    from greasecheck.predict.forecast_records import ClearDates


def advice_json(tub: int, one: TubAdvice | None, photos: Sequence[PatchPhoto]) -> dict[str, object]:
    """Return a tub's advice under unit-suffixed keys; a tub without any has null decisions."""
    if one is None:
        return {"tub": tub, "change": None, "stall": None, "skulls": None}
    return {
        "tub": tub,
        "decided_at": one.forecast.made_at.isoformat(),
        **withheld_json(one.withheld),
        "clear_at": _day(one.runs_clear, 0.5),
        "surely_clear_at": _day(one.runs_clear, 0.9),
        "probability_clear_now": one.forecast.probability_clear_now,
        "degreased_at": _day(one.degreased, 0.5),
        "surely_degreased_at": _day(one.degreased, 0.9),
        "probability_degreased_now": one.probability_degreased_now,
        "change": plain(one.change),
        "stall": plain(one.stall),
        "skulls": plain(one.skulls),
        "yellow_patch_photos": plain(tuple(photos)),
        "notes": list(notes_words(one.forecast.notes)),
    }


def _day(dates: ClearDates | None, probability: float) -> object:
    return plain(dates.quantile(probability)) if dates else None
