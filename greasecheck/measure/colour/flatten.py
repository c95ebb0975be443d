"""Takes the tone curve and the light across the sheet out of a photo's values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import ColourError
from greasecheck.measure.colour.camera_tone import (
    CameraTone,
    fit_camera_tone,
    fit_camera_tones,
    no_camera_tone,
)
from greasecheck.measure.colour.light_field import LightField, LightSamples, fit_light
from greasecheck.measure.robust import medians
from greasecheck.reference.srgb import linear_of_xyz

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.measure.colour.patches import SheetColours
    from greasecheck.model import BoolArray, FloatArray, SheetGeometry

# Without a source, where none is named; the comment beside each value states what it does.
TURNS = 3  # tone curve and light settle in turns
# Standard error of a grey's luminance Y: a share of it, and an offset (Y of white = 100)
MEASURED_STD = (0.01, 0.1)  # instruments and the evenness of the print
NOMINAL_STD = (0.10, 1.5)  # what printers do to greys, and how dark their black is
FEWEST_GREYS = 3  # of different lightness, for a curve with a bend
SHADOWED = 0.05  # relative departure from its like by which a patch or window is in a shadow


@dataclass(frozen=True, slots=True, kw_only=True)
class EvenLight:
    """What lies between the photo's values and those of a camera under even light.

    Attributes
    ----------
    tone : CameraTone
        What the camera does to tones, undone.
    light : LightField
        Relative light over the sheet's plane.
    white : ndarray, shape (3,)
        Scene light of bare paper at the sheet's centre, before scaling.
    """

    tone: CameraTone
    light: LightField
    white: FloatArray

    def __call__(self, linear: FloatArray, points_mm: FloatArray) -> FloatArray:
        """Return values under even light, bare paper = 1, shape (n, 3), of values at points."""
        return np.asarray(self.tone(linear) / (self.white * self.light(points_mm)))


def settle(
    seen: SheetColours,
    usable: BoolArray,
    geometry: SheetGeometry,
    *,
    measured: bool,
    luminance_share: float = 0.0,
) -> EvenLight:
    """Let the tone curve and the light across the sheet settle in turns.

    Parameters
    ----------
    seen : SheetColours
        Patches and paper windows.
    usable : ndarray, shape (n,), bool
        Those to go by.
    geometry : SheetGeometry
        The sheet.
    measured : bool
        Whether the patches' values are measured, or only nominal.
    luminance_share : float
        How far the camera puts its tone curve on the luminance, 0 to 1.

    Raises
    ------
    ColourError
        When no greys of different lightness agree with their like.
    """
    tone = no_camera_tone()
    light = _light(seen, usable, tone, geometry)
    for _ in range(TURNS):
        even = tone(seen.linear) / light(seen.points_mm)
        grey = _sure_greys(seen, usable & seen.neutral, agreeing(seen, usable, even))
        _refuse_flat(seen, grey)
        sent = linear_of_xyz(seen.xyz) * light(seen.points_mm)
        tone = _tone(seen, grey, sent, measured=measured, luminance_share=luminance_share)
        light = _light(seen, usable, tone, geometry)
    even = tone(seen.linear) / light(seen.points_mm)
    lit = seen.paper & agreeing(seen, usable, even)
    paper = lit if lit.any() else seen.paper & usable
    return EvenLight(tone=tone, light=light, white=medians(even[paper]))


def without_own_grey(
    seen: SheetColours, usable: BoolArray, even: EvenLight, *, measured: bool
) -> FloatArray:
    """Return values under even light, shape (n, 3), a grey's by the tone that other greys tell.

    A grey that the tone curve was bent to go through says nothing of how far the curve is off.
    Parameters as for `settle`; `even` is what it found.
    """
    scene, light = even.tone(seen.linear), even.light(seen.points_mm)
    camera = np.asarray(scene / (even.white * light))
    grey = usable & seen.neutral & agreeing(seen, usable, camera)
    sent, share = linear_of_xyz(seen.xyz) * light, even.tone.luminance_share
    if seen.distinct(grey) <= FEWEST_GREYS:
        return camera
    linear, stems, places = seen.linear[grey], seen.stems[grey], np.flatnonzero(grey)
    others = stems != np.flatnonzero(np.bincount(stems))[:, np.newaxis]
    std = _grey_std(seen, grey, measured=measured)
    tones = fit_camera_tones(linear, sent[grey], std, others, luminance_share=share)
    for tone, other in zip(tones, others, strict=True):
        told = tone(linear) / scene[grey]
        # a curve alone has any scale: the other greys keep their level
        camera[places[~other]] *= told[~other] / medians(told[other])
    return camera


def _tone(
    seen: SheetColours,
    grey: BoolArray,
    sent: FloatArray,
    *,
    measured: bool,
    luminance_share: float,
) -> CameraTone:
    """Fit what the camera does to tones to the greys chosen, by the light that they send."""
    std = _grey_std(seen, grey, measured=measured)
    return fit_camera_tone(seen.linear[grey], sent[grey], std, luminance_share=luminance_share)


def _grey_std(seen: SheetColours, grey: BoolArray, *, measured: bool) -> FloatArray:
    """Relative standard error of the luminance of the greys chosen."""
    share, offset = MEASURED_STD if measured else NOMINAL_STD
    luminance = seen.xyz[grey, 1]
    return np.asarray(np.hypot(share * luminance, offset) / luminance)


def _sure_greys(seen: SheetColours, grey: BoolArray, agree: BoolArray) -> BoolArray:
    """Return the greys that agree with their like; all while the light is too wrong."""
    sure = grey & agree
    return sure if seen.distinct(sure) >= FEWEST_GREYS else grey


def _refuse_flat(seen: SheetColours, grey: BoolArray) -> None:
    """Raise ColourError when the greys chosen are of one colour or all look alike."""
    if seen.distinct(grey) < 2 or np.ptp(seen.linear[grey, 1]) == 0:
        raise ColourError(
            "the greys of the sheet do not agree with each other",
            hint="keep hands, shadows and glare off the patches, and take the photo again",
        )


def lit_paper(seen: SheetColours, camera: FloatArray) -> BoolArray:
    """Return the paper windows that lie in no shadow; `camera` are values under even light."""
    return np.asarray(seen.paper & (np.abs(camera - 1).max(axis=1) < SHADOWED))


def agreeing(seen: SheetColours, usable: BoolArray, even: FloatArray) -> BoolArray:
    """Return which of the usable samples agree with those of their own colour.

    Parameters
    ----------
    seen : SheetColours
        Patches and paper windows.
    usable : ndarray, shape (n,), bool
        Those to compare.
    even : ndarray, shape (n, 3)
        Their values under even light.
    """
    green = (even[:, 1] / seen.xyz[:, 1])[usable]
    agree = np.zeros(len(usable), dtype=bool)
    agree[usable] = np.abs(green / _group_medians(green, seen.stems[usable]) - 1) < SHADOWED
    return agree


def _group_medians(values: FloatArray, group: NDArray[np.int64]) -> FloatArray:
    """For each of the values the median of its group."""
    counts = np.bincount(group)
    ordered = values[np.lexsort((values, group))]
    starts = np.cumsum(counts) - counts
    medians = (ordered[starts + (counts - 1) // 2] + ordered[starts + counts // 2]) / 2
    return np.asarray(medians[group])


def _light(
    seen: SheetColours, usable: BoolArray, tone: CameraTone, geometry: SheetGeometry
) -> LightField:
    counts = np.bincount(seen.stems[usable], minlength=len(usable))
    repeated = np.flatnonzero(usable & (counts[seen.stems] > 1))
    samples = LightSamples(
        points_mm=seen.points_mm[repeated],
        scene=tone(seen.linear[repeated]) / seen.xyz[repeated, 1:2],
        group=seen.stems[repeated],
        paper=seen.paper[repeated],
    )
    return fit_light(samples, geometry.width_mm, geometry.height_mm)
