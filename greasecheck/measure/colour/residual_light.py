"""How far the light on the sheet is from what the light field can follow: shadows, mixed lamps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.robust import medians

if TYPE_CHECKING:
    from greasecheck.measure.colour.light_field import LightField
    from greasecheck.measure.colour.patches import SheetColours
    from greasecheck.model import BoolArray, FloatArray, SheetGeometry

# Without a source, where none is named; the comment beside each value states what it does.
NEAR_JAR_MM = 12.0  # the jar's own light and shadow fall on paper nearer than this
RED, GREEN, BLUE = 0, 1, 2
LEAST_WINDOWS = 4  # of bare paper, for a plane and one to check it
LEAST_LIGHT = 1e-3  # keeps the logarithms finite; paper = 1
UNKNOWN = 1.0  # misfit when too few windows are seen
# The hue of the light is extrapolated from the sheet to the bone: with so much of its change as
# standard error. YI = 100 (Cx X - Cz Z) / Y of pale bone changes by about this for a logarithm of
# red over blue of 1 (ASTM E313, D65/2: 1.30 X/Y and 1.13 Z/Y, of which red carries half of X).
HUE_BELIEF = 0.5
YI_PER_HUE = 120.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LightMisfit:
    """The light by paper away from the jar.

    Attributes
    ----------
    level : float
        Root mean square departure of bare paper from the fitted light, relative.
    hue : float
        The same for red over blue.
    hue_slope : ndarray, shape (2,)
        Change of the logarithm of red over blue per half sheet, to the right and down.
    twins : float
        Median departure of patches printed twice from each other, relative: a fold or shadow on
        one side of the sheet parts them.
    windows : tuple of float or None
        Logarithm of each paper window's red light over the fitted light; None near the jar and
        where it is unseen.
    """

    level: float
    hue: float
    hue_slope: FloatArray
    twins: float
    windows: tuple[float | None, ...]

    @property
    def largest_hue_slope(self) -> float:
        """Return the larger of the two slopes of hue."""
        return float(np.abs(self.hue_slope).max())

    @property
    def paper_yi_std(self) -> float:
        """Return the part of `bone_yi_std` that bare paper of several hues makes."""
        return YI_PER_HUE * self.hue

    def bone_yi_std(self, half_sheets_beyond: float, hue_apart: float | None = None) -> float:
        """Return the standard error of yellowness so far beyond the sheet's edge [half sheets].

        `hue_apart` is how far the light there is off the light carried on, as a logarithm of X
        over Z, where the ground shows it; otherwise the slope on the sheet decides.
        """
        guessed = HUE_BELIEF * abs(float(self.hue_slope[0])) * half_sheets_beyond
        beyond = guessed if hue_apart is None else hue_apart
        return float(np.hypot(YI_PER_HUE * beyond, self.paper_yi_std))


def light_misfit(
    seen: SheetColours, camera: FloatArray, light: LightField, geometry: SheetGeometry
) -> LightMisfit:
    """Compare bare paper with the fitted light.

    Parameters
    ----------
    seen : SheetColours
        Patches and paper windows.
    camera : ndarray, shape (n, 3)
        Their values under even light, bare paper = 1.
    light : LightField
        The fitted light.
    geometry : SheetGeometry
        The sheet.
    """
    paper = seen.paper
    shown = (seen.unseen_share[paper] == 0) & ~_near_jar(seen.points_mm[paper], geometry)
    logs = np.log(np.maximum(camera[paper], LEAST_LIGHT))
    levels, hues = logs[shown].mean(axis=1), logs[shown, RED] - logs[shown, BLUE]
    enough = len(levels) >= LEAST_WINDOWS
    return LightMisfit(
        level=float(np.sqrt(np.mean(levels**2))) if enough else UNKNOWN,
        hue=float(np.std(hues)) if enough else UNKNOWN,
        twins=_twin_departure(seen, camera),
        windows=tuple(
            float(red) if seen_well else None
            for red, seen_well in zip(logs[:, RED], shown, strict=True)
        ),
        hue_slope=light.hue[:, RED] - light.hue[:, BLUE],
    )


def _twin_departure(seen: SheetColours, camera: FloatArray) -> float:
    """Median relative departure of usable twins from each other; 0 when there are none."""
    patch = seen.usable & ~seen.paper
    order = np.argsort(seen.stems[patch], kind="stable")
    stems, logs = (
        seen.stems[patch][order],
        np.log(np.maximum(camera[patch, GREEN], LEAST_LIGHT))[order],
    )
    apart = np.abs(np.diff(logs))[np.diff(stems) == 0]
    return float(medians(apart)) if len(apart) else 0.0


def _near_jar(points_mm: FloatArray, geometry: SheetGeometry) -> BoolArray:
    if geometry.jar is None:
        return np.zeros(len(points_mm), dtype=bool)
    near = geometry.jar.zone.inset(-NEAR_JAR_MM)
    x, y = (points_mm - (near.x_mm, near.y_mm)).T
    return np.asarray((x > 0) & (x < near.width_mm) & (y > 0) & (y < near.height_mm))
