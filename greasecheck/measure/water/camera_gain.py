"""Takes out of the bars' contrast what camera and glass put in, as ladder and glass field show."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.sight.glass import modulation

if TYPE_CHECKING:
    from greasecheck.measure.sight.contrast_ladder import LadderView
    from greasecheck.measure.sight.view import FieldPair, SightView
    from greasecheck.measure.water.reference import ClearWater
    from greasecheck.measure.water.transmittance import Transmittance
    from greasecheck.model import FloatArray

# A gain that was measured is taken out, and so much of it stays as standard error: ladder and jar
# lie in other surroundings, which local tone mapping looks at.
GAIN_BELIEF = 0.4
# Dark areas that are lifted as a whole take the jar with them, the more the darker its water: it is
# larger than the ladder's cell. So much of the lift beyond that of plain cameras is standard error.
LIFT_BELIEF, PLAIN_LIFT = 1.5, 0.02
# A smear may lie on the jar otherwise below than above the fill line: so much of the loss seen
# above is taken out below, and so much stays as standard error.
GLASS_SHARE, GLASS_BELIEF = 0.7, 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """Logarithm of a factor on contrast, with its standard error."""

    value: float
    std: float


NONE = Gain(value=0.0, std=0.0)


def camera_gain(ladder: LadderView | None, pair: FieldPair, *, fine: bool) -> Gain:
    """Return what the camera did to a field's contrast, from ladder fields of like contrast.

    Parameters
    ----------
    ladder : LadderView or None
        The ladder; without one no gain is known.
    pair : FieldPair
        The field behind the jar.
    fine : bool
        Whether its bars are the fine ones.
    """
    if ladder is None:
        return NONE
    gains = ladder.fine if fine else ladder.coarse
    stds = ladder.fine_std if fine else ladder.coarse_std
    seen = np.log(ladder.printed) + gains
    at = np.log(max(modulation(pair.wet) / modulation(pair.dry) * ladder.printed[-1], 1e-4))
    order = np.argsort(seen)
    value = float(np.interp(at, seen[order], _smoothed(gains[order])))
    noise = float(np.interp(at, seen[order], stds[order])) / np.sqrt(2)
    trust = value**2 / (value**2 + noise**2)
    lift = LIFT_BELIEF * max(abs(ladder.dark_lift) - PLAIN_LIFT, 0.0)
    errors = (GAIN_BELIEF * value, noise * trust, lift)
    return Gain(value=value * trust, std=float(np.linalg.norm(errors)))


def _smoothed(gains: FloatArray) -> FloatArray:
    """Average each gain with its neighbours; the last, of the dry bars, is the reference."""
    padded = np.concatenate([gains[:1], gains, gains[-1:]])
    smooth = (padded[:-2] + 2 * padded[1:-1] + padded[2:]) / 4
    smooth[-1] = gains[-1]
    return np.asarray(smooth)


def glass_loss(sight: SightView, clear: ClearWater) -> Gain:
    """Return what smear or mist on the glass takes from contrast beyond that of the reference.

    The value is the logarithm of the share of modulation left, negative for a loss.
    """
    if sight.glass is None or clear.glass_modulation is None:
        return NONE
    now = max(sight.glass.modulation, 1e-3)
    change = float(np.log(now / clear.glass_modulation))
    noise = sight.glass.std / now
    std = GLASS_BELIEF * max(abs(change) - noise, 0.0)
    return Gain(value=GLASS_SHARE * min(change, 0.0), std=std)


def without(field: Transmittance, *gains: Gain) -> Transmittance:
    """Take gains out of the share of contrast that a field kept."""
    value = sum(gain.value for gain in gains)
    relative = float(np.sqrt(sum(gain.std**2 for gain in gains)))
    kept = field.kept * np.exp(-value)
    std = np.hypot(field.std * np.exp(-value), kept * relative)
    return replace(field, kept=kept, std=std)
