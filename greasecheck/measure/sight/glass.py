"""The jar's glass alone: bars behind the jar, above the water."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.measure.sight.bars import AS_PRINTED, BarField, align, take_strips
from greasecheck.measure.sight.cells import measure_contrast

if TYPE_CHECKING:
    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.measure.sight.cells import FieldContrast
    from greasecheck.model import Photo, Placement


@dataclass(frozen=True, slots=True, kw_only=True)
class GlassView:
    """What the jar's walls alone do to bars.

    Attributes
    ----------
    modulation : float
        Modulation (white - black) / (white + black) of the bars behind the glass over that of the
        dry ones: a veil of smear or mist and the blur of a wet wall both lower it, the light that
        falls there does not change it.
    std : float
        Its standard error.
    used_share : float
        Share of the cells that were not rejected (drops, foam), 0 to 1.
    """

    modulation: float
    std: float
    used_share: float


def look_through_glass(
    photo: Photo, placement: Placement, colour: ColourModel, dry: FieldContrast
) -> GlassView | None:
    """Measure the bars above the fill line; None on sheets without them."""
    sight = placement.geometry.sight
    if sight.glass is None:
        return None
    field = BarField(box=sight.glass, bar_mm=sight.fine_bar_mm)
    strips = take_strips(photo, placement, colour, field)
    seen = measure_contrast(strips, align(strips, AS_PRINTED))
    relative = float((seen.std / seen.contrast).mean())
    return GlassView(
        modulation=modulation(seen) / modulation(dry),
        std=abs(relative) * modulation(seen) / modulation(dry),
        used_share=seen.used_share,
    )


def modulation(seen: FieldContrast) -> float:
    """Return (white - black) / (white + black) of a field of neutral bars.

    The mean of the channels is taken, which averages their noise.
    """
    white, black = float(seen.white.mean()), float(seen.black.mean())
    return (white - black) / (white + black)
