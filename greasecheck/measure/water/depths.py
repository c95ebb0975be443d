"""Reads water on sheets whose bars lie low: optical depths of three channels and two widths."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.sight.stand_light import UNKNOWN_LIGHT, light_of
from greasecheck.measure.sight.view import MAIN_CHANNEL
from greasecheck.measure.water.camera_gain import camera_gain, glass_loss, without
from greasecheck.measure.water.light import added_veil
from greasecheck.measure.water.spectral import ChannelDepths, explain

if TYPE_CHECKING:
    from greasecheck.measure.sight.stand_light import StandLight
    from greasecheck.measure.sight.view import SightView
    from greasecheck.measure.water.reference import ClearWater
    from greasecheck.measure.water.scatter import BeamAttenuation
    from greasecheck.measure.water.transmittance import Transmittance
    from greasecheck.model import FloatArray

LEAST_KEPT = 1e-4
LEAST_LIT = 0.1  # of paper far from the jar; darker bars are refused
# Low bars get much of their light by ways through the jar: a jar set down anew, filled a little
# higher, changes that by about 1 % (path-traced stands repeat to 0.6 %).
STAND_STD = 0.009
# Bars are taken where their contrast is largest; where it drowns in a veil that is a little uneven,
# so much is found of it that is none (share of clear water's, path-traced stands of 75 per m).
FOUND_IN_NOISE = 0.002


@dataclass(frozen=True, slots=True, kw_only=True)
class LowBars:
    """The water by bars below its shadow.

    Attributes
    ----------
    fine, coarse : Transmittance
        Both fields, freed of what camera and glass did.
    veil : ndarray, shape (3,)
        Light that the water adds beyond that of clear water, paper white = 1.
    light : StandLight
        How the stand's light falls.
    """

    fine: Transmittance
    coarse: Transmittance
    veil: FloatArray
    light: StandLight

    def beams(self, path_mm: float) -> tuple[BeamAttenuation | None, ...]:
        """Return the attenuation for R, G, B; None where no bars are seen.

        Where fine bars are lost in red and coarse ones are not, as denoising loses them, the coarse
        ones are read alone.
        """
        coarse_alone = not self.fine.seen[MAIN_CHANNEL] and self.coarse.seen[MAIN_CHANNEL]
        main = self.coarse if coarse_alone else self.fine
        depths = tuple(self._channel(main, k, alone=coarse_alone) for k in range(3))
        light = _on_coarse(self.light) if coarse_alone else self.light
        found = iter(explain(depths, (main.bar_mm, self.coarse.bar_mm), path_mm, light))
        return tuple(next(found) if one is not None else None for one in depths)

    def _channel(self, main: Transmittance, k: int, *, alone: bool) -> ChannelDepths | None:
        if not main.seen[k]:
            return None
        kept = float(main.kept[k])
        other = max(float(self.coarse.kept[k]), LEAST_KEPT)
        usable = self.coarse.seen[k] and not alone
        return ChannelDepths(
            fine=-float(np.log(kept)),
            fine_std=float(np.hypot(main.std[k] / kept, STAND_STD)),
            coarse=-float(np.log(other)),
            coarse_std=float(self.coarse.std[k]) / other if usable else np.inf,
            veil=float(self.veil[k]),
        )


def _on_coarse(light: StandLight) -> StandLight:
    return replace(light, shade=light.coarse, shade_std=light.coarse_std)


def light_on_coarse(clear: ClearWater) -> float | None:
    """Return the logarithm of the light on coarse bars behind clear water, where it is known."""
    if clear.shade is None:
        return None
    return float(np.log(max(clear.coarse.mean_ratio[MAIN_CHANNEL], LEAST_LIT)))


def low_bars(
    sight: SightView, clear: ClearWater, fine: Transmittance, coarse: Transmittance
) -> LowBars:
    """Free both fields of what the camera did to faint contrast, and of smear on the glass."""
    glass, lit = glass_loss(sight, clear), light_on_coarse(clear)
    fine, coarse = (replace(one, std=np.hypot(one.std, FOUND_IN_NOISE)) for one in (fine, coarse))
    return LowBars(
        fine=without(fine, camera_gain(sight.ladder, sight.fine, fine=True), glass),
        coarse=without(coarse, camera_gain(sight.ladder, sight.coarse, fine=False), glass),
        veil=added_veil(sight.fine, clear.fine),
        light=UNKNOWN_LIGHT if lit is None else light_of(lit),
    )
