"""Every kind of degraded photograph by name."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from tests.synthetic.degraded import bones, cameras, jars, lights, sheets, things

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.random import Generator

    from tests.synthetic.degraded.picture import Picture, Scenery


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One way to spoil a photograph.

    Attributes
    ----------
    name : str
        Its name in tables.
    spoil : callable
        Takes a photograph, a random generator and a severity from 0 to 1.
    needs_bone : bool
        Whether it makes sense only with a bone on the rest.
    """

    name: str
    spoil: Callable[[Scenery, Generator, float], Picture]
    needs_bone: bool = False


OF_BONES = (bones.__name__, things.__name__)
KINDS = tuple(
    Kind(name=spoil.__name__, spoil=spoil, needs_bone=spoil.__module__ in OF_BONES)
    for spoil in (
        cameras.defocused, cameras.shaken, cameras.compressed, cameras.downsized,
        cameras.sharpened, cameras.tone_mapped,
        lights.shadow_across, lights.shadow_on_wet, lights.shadow_on_dry,
        lights.glare_on_sight, lights.glare_on_jar, lights.glare_on_patches,
        lights.lamp_off, lights.hue_of_lamp, lights.mixed_light,
        lights.overexposed, lights.too_dark,
        sheets.finger_on_patch, sheets.finger_on_marker, sheets.finger_on_sight,
        sheets.wet_sheet, sheets.faded, sheets.creased,
        jars.other_depth, jars.narrow_jar, jars.jar_shifted,
        jars.drops, jars.bubbles, jars.foam,
        bones.bone_at_sheet, bones.bone_off_rest, bones.hand_on_rest,
        things.card_on_rest, things.strip_on_rest,
    )
)  # fmt: skip
