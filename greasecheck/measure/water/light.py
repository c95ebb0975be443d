"""Compares the light on the bars with that of the clear-water reference.

A reading takes it that water alone lies between the wet bars and their dry twins. A shadow, a
mirrored lamp, a finger or a phone's tone mapping on one of them changes what no water can: the dry
bars' own light, the evenness of contrast across a field, or it takes light that has no colour. What
is sensed of it widens the stated error; what is too much makes the photo doubtful.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.sight.jar_light import ContrastLost, colourless
from greasecheck.measure.sight.view import CLEARLY_SEEN, MAIN_CHANNEL

if TYPE_CHECKING:
    from greasecheck.measure.sight.view import BarLevels, FieldPair, SightView
    from greasecheck.measure.water.reference import ClearWater, FieldReference
    from greasecheck.model import FloatArray

# White bars behind milky water lose light in proportion to the contrast lost: this share where
# none is left (`python -m tests.benchmarks.first_sheet_constants`). The fine bars are nearer to the
# lit surface.
FINE_LOSS, COARSE_LOSS = 0.33, 0.50
# What g of 0.8 to 0.95 changes of that in the same stands, as an optical depth: little in clear
# water, more with the square of the contrast lost.
DIM_TOLERANCE, DIM_TOLERANCE_LOST = 0.01, 0.25
# Of those waters the ones that scatter most sideways (g of 0.8) brighten white bars by at most this
# share of the contrast lost beyond DIM_TOLERANCE, as an optical depth (the same command).
BRIGHT_TOLERANCE_LOST = 0.17
DIM_DOUBT = 0.03  # less of a shadow than this optical depth widens the error, but raises no doubt
# Milky water in the lamps that constants are fitted to loses at most so much of its contrast for
# its veil (`tests.benchmarks.jar_shadow --limits`); a shadow takes contrast and adds none.
LOST_PER_VEIL = 2.1
LEAST_KEPT, LEAST_WHITE_OVER_KEPT = 1e-3, 0.8  # keep the logarithms finite
# The jar's own light lets contrast lean so much over a field, and more where contrast is lost.
LEAN_TOLERANCE, LEAN_TOLERANCE_LOST = 0.08, 0.15
# Low bars that a lamp lights from the side lean behind clear water; murk takes of that lean as much
# as of their contrast, at most. Beyond it leans change by less than this from water to water, in
# the lamps that constants are fitted to.
WET_LEAN_TOLERANCE = 0.03
STEP_STD = 4.0  # standard errors of a band that a step may have
LEAN_STD = 6.0  # standard errors of the mean contrast that a difference of halves may have
BELIEF = 0.5  # a lean that was sensed has this share of its size as standard error
# A shadow that may be there as well as not makes an error of its whole size half of the time: root
# mean square, its size over the root of two.
SHADOW_BELIEF = 0.7


@dataclass(frozen=True, slots=True, kw_only=True)
class BarLight:
    """How the light on one field of bars departs from that of the clear-water reference.

    Attributes
    ----------
    dry_level : float
        Change of the dry bars' mean red light against the paper around them, relative: blur leaves
        it as it is.
    dry_black : float
        Change of the dry black bars' red light, paper = 1.
    dim_depth : float
        Optical depth in red of a loss of light that has no colour and is more than scattering
        water explains; 0 when there is none.
    lost_depth : float
        Optical depth of the contrast lost in red.
    bright_depth : float
        Optical depth in red of a gain of light beyond what any milky water sends back; 0 when there
        is none.
    off_depth : float
        Optical depth of light lost or gained against usual milky water, whatever its cause.
    white_gain : float
        How much brighter the white bars are behind the jar than behind clear water, relative.
    lean : float
        Change of contrast across the field, wet or dry, that neither the jar nor noise explains,
        relative.
    step : float
        Departure of a band's wet contrast from a straight line down the field beyond noise,
        relative; of fine bars alone.
    """

    dry_level: float
    dry_black: float
    dim_depth: float
    lost_depth: float
    bright_depth: float
    off_depth: float
    white_gain: float
    lean: float
    step: float = 0.0

    @property
    def relative_std(self) -> float:
        """Return the relative standard error of the share of contrast kept that a field has."""
        sensed = (self.dry_level, self.dry_black, BELIEF * self.lean)
        return float(np.linalg.norm(sensed))

    @property
    def depth_std(self) -> float:
        """Return the standard error of the water's optical depth by light on the bars.

        What another water would explain as well counts too: nothing tells the two apart.
        """
        return SHADOW_BELIEF * self.off_depth

    @property
    def dim_share(self) -> float:
        """Return the share of the contrast's loss that may be a shadow's, 0 to 1."""
        return float(np.clip((self.dim_depth - DIM_DOUBT) / max(self.lost_depth, 1e-6), 0, 1))


UNKNOWN = BarLight(
    dry_level=0.0,
    dry_black=0.0,
    dim_depth=0.0,
    lost_depth=0.0,
    bright_depth=0.0,
    off_depth=0.0,
    white_gain=0.0,
    lean=0.0,
)


def light_on_sight(sight: SightView, clear: ClearWater) -> tuple[BarLight, BarLight]:
    """Compare the light on the fine and on the coarse bars with that in clear water."""
    if sight.glass is not None:
        fine = _low_light(sight.fine, clear.fine)
        lean = max(fine.lean, _layers(sight.fine, clear.fine))
        fine = replace(fine, lean=lean, step=band_step(sight.fine))
        return fine, _low_light(sight.coarse, clear.coarse)
    fine = _light_on(sight.fine, clear.fine, FINE_LOSS)
    coarse = _light_on(sight.coarse, clear.coarse, COARSE_LOSS)
    dim_depth = max(fine.dim_depth, coarse.dim_depth)  # a shadow on the jar falls on both
    off_depth = max(fine.off_depth, coarse.off_depth)
    fine, coarse = (
        replace(one, dim_depth=dim_depth, off_depth=off_depth) for one in (fine, coarse)
    )
    return replace(fine, step=band_step(sight.fine)), coarse


def band_step(pair: FieldPair) -> float:
    """Return how far a band of contrast departs from a straight line down the field, beyond noise.

    Relative to the clearest band. Murk changes little over 20 mm, and by a line where it settles;
    what crosses the jar, a rubber band, a line of scum, hides some bands and leaves the others.
    """
    bands, std = pair.wet.bands[:, MAIN_CHANNEL], float(pair.wet.bands_std[MAIN_CHANNEL])
    clearest = float(bands.max())
    if clearest <= CLEARLY_SEEN * std:
        return 0.0
    down = np.arange(len(bands))
    line = np.polyval(np.polyfit(down, bands, 1), down)
    beyond = float(np.abs(bands - line).max()) - STEP_STD * std
    return max(beyond / clearest, 0.0)


def _low_light(pair: FieldPair, reference: FieldReference) -> BarLight:
    """Compare the light on low bars; how murk shades them is left to `spectral.py`."""
    then = reference.levels
    if then is None:
        return UNKNOWN
    dim_depth = 0.0
    if pair.clearly_seen:
        dim_depth = colourless(contrast_lost(pair, reference).absorbed)
    return replace(
        UNKNOWN,
        dry_black=abs(pair.levels.dry_black[MAIN_CHANNEL] - then.dry_black[MAIN_CHANNEL]),
        dim_depth=dim_depth,
        off_depth=dim_depth,
        lost_depth=max(float(-np.log(max(pair.ratio[MAIN_CHANNEL], LEAST_KEPT))), 0.0),
        lean=max(_dry_lean(pair, then.dry_lean), _wet_lean(pair, then.wet_lean)),
    )


def contrast_lost(pair: FieldPair, reference: FieldReference) -> ContrastLost:
    """Return what water takes of a field's contrast, by the veil that it sends back.

    Milky water that scatters contrast away shines; blood and dirt take more of the blue, a shadow
    takes of all colours alike.
    """
    kept = np.clip(pair.ratio, LEAST_KEPT, 1)
    scattered = np.clip(LOST_PER_VEIL * added_veil(pair, reference), 0, 1 - kept)
    return ContrastLost(scattered=scattered, absorbed=np.log((1 - scattered) / kept))


def added_veil(pair: FieldPair, reference: FieldReference) -> FloatArray:
    """Return the light that water adds beyond that of clear water, paper white = 1, shape (3,)."""
    return np.asarray(pair.veil * reference.mean_ratio - reference.veil)


def _light_on(pair: FieldPair, reference: FieldReference, loss: float) -> BarLight:
    then, now = reference.levels, pair.levels
    if then is None:
        return UNKNOWN
    kept = np.maximum(pair.ratio, LEAST_KEPT)
    white_kept = np.multiply(now.white_kept, reference.mean_ratio) / np.array(then.white_kept)
    depths = dim_depths(white_kept, kept, loss)
    lost = np.clip(1 - kept, 0, 1)
    tolerance = DIM_TOLERANCE + DIM_TOLERANCE_LOST * lost**2
    gain = -float(depths[MAIN_CHANNEL]) - DIM_TOLERANCE if pair.clearly_seen else 0.0
    off = colourless(depths - DIM_TOLERANCE) if pair.clearly_seen else 0.0
    return BarLight(
        dry_level=abs(float(np.log(_level(now) / _level(then)))),
        dry_black=abs(now.dry_black[MAIN_CHANNEL] - then.dry_black[MAIN_CHANNEL]),
        dim_depth=colourless(depths - tolerance) if pair.clearly_seen else 0.0,
        lost_depth=max(float(-np.log(kept[MAIN_CHANNEL])), 0.0),
        bright_depth=max(gain - BRIGHT_TOLERANCE_LOST * float(lost[MAIN_CHANNEL]), 0.0),
        off_depth=max(gain, off, 0.0),
        white_gain=float(white_kept.mean()) - 1,
        lean=_lean(pair, then.dry_lean, max(float(1 - kept[MAIN_CHANNEL]), 0.0)),
    )


def _level(levels: BarLevels) -> float:
    return levels.dry_white[MAIN_CHANNEL] + levels.dry_black[MAIN_CHANNEL]


def dim_depths(white_kept: FloatArray, kept: FloatArray, loss: float) -> FloatArray:
    """Optical depth of what dims white and black bars alike, negative for a gain, shape (3,).

    Behind milky water that keeps a share t of the contrast, white keeps 1 - loss (1 - t) of its
    light. Whatever dims both by one factor leaves their ratio, which gives t.
    """
    ratio = np.maximum(white_kept / kept, LEAST_WHITE_OVER_KEPT)
    milky = (1 - loss) / (ratio - loss)
    return np.asarray(np.log(milky / kept))


def _lean(pair: FieldPair, usual: tuple[float, float], lost: float) -> float:
    """Largest lean of the wet or the dry contrast beyond its tolerance."""
    extra = LEAN_TOLERANCE_LOST * lost
    tolerance = LEAN_TOLERANCE + extra
    dry = max(_dry_lean(pair, usual) - extra, 0.0)
    if not pair.clearly_seen:
        return dry
    noise = LEAN_STD * float(np.mean(pair.wet.std) / np.mean(pair.wet.contrast))
    wet = np.abs(pair.wet.lean).max() - noise
    return float(max(dry, wet - tolerance))


def _wet_lean(pair: FieldPair, usual: float | None) -> float:
    """Change of the wet bars' lean across beyond what murk and noise make of it."""
    if usual is None or not pair.clearly_seen:
        return 0.0
    lost = float(np.clip(1 - pair.ratio[MAIN_CHANNEL], 0, 1))
    noise = LEAN_STD * float(np.mean(pair.wet.std) / np.mean(pair.wet.contrast))
    change = abs(pair.wet.lean[0] - usual)
    return max(change - noise - abs(usual) * lost - WET_LEAN_TOLERANCE, 0.0)


def _layers(pair: FieldPair, reference: FieldReference) -> float:
    """How much the contrast of low fine bars leans down, as it does in layers of murk, or 0.

    They lie below the shadow of the water's surface, where even murk takes of the lean that clear
    water has as much as of the contrast, at most; coarse bars may lie in that shadow's edge. The
    scatter of bands grows by the lean itself, so what is surely there counts whole.
    """
    if not pair.clearly_seen:
        return 0.0
    upper, lower = np.array_split(np.array(reference.ratio)[:, MAIN_CHANNEL], 2)
    usual = abs(float(lower.mean() / upper.mean()) - 1)
    lost = float(np.clip(1 - pair.ratio[MAIN_CHANNEL], 0, 1))
    noise = LEAN_STD * float(np.mean(pair.wet.std) / np.mean(pair.wet.contrast))
    lean = abs(pair.wet.lean[1]) - WET_LEAN_TOLERANCE - usual * lost
    return lean if lean > noise else 0.0


def _dry_lean(pair: FieldPair, usual: tuple[float, float]) -> float:
    """Largest change of the dry contrast's lean beyond its tolerance in clear water."""
    leans = np.abs(np.subtract(pair.dry.lean, usual))
    noise = LEAN_STD * np.max(pair.dry.std / pair.dry.contrast)
    return float(max(leans.max() - noise - LEAN_TOLERANCE, 0.0))
