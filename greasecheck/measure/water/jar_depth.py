"""Estimates the depth of the jar from how far the water displaces the bars behind it.

Of a jar of clear water by itself, and of any other against the reference.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot
from typing import TYPE_CHECKING

from greasecheck.measure.sheet.pose import has_camera_shape
from greasecheck.reference.water import WATER_INDEX

if TYPE_CHECKING:
    from greasecheck.measure.sight.view import SightView
    from greasecheck.measure.water.reference import ClearWater
    from greasecheck.model import Photo, Placement

# Without a source, where none is named; the comment beside each value states what it does.
WELL_SEEN = 0.15  # relative standard error of a depth that is worth a word
SURE = 2.0  # standard errors that are put down to noise
STAND_MM = 700.0  # from sheet to camera, as the stand is described
FILM_DIAGONAL_MM = hypot(36.0, 24.0)  # CIPA DCG-001: what a 35 mm equivalent is counted by
# Two walls of 2.5 mm of glass or acrylic, index 1.5, bring the bars nearer as well.
BY_WALLS_MM = 5.0 * (1 - 1 / 1.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class JarDepth:
    """Depth of the water in the jar over that of the reference, with its standard error."""

    ratio: float
    std: float

    @property
    def departure(self) -> float:
        """Return how far the depth surely departs from that of the reference, relative."""
        return max(abs(self.ratio - 1) - SURE * self.std, 0.0)


def jar_depth(sight: SightView, clear: ClearWater, distance_ratio: float) -> JarDepth | None:
    """Estimate the jar's depth by the stretch of the fine bars.

    Behind a depth d of water of index n, seen from a distance D, bars are stretched by
    1 + d (1 - 1/n) / D.

    Parameters
    ----------
    sight : SightView
        The bars.
    clear : ClearWater
        The reference.
    distance_ratio : float
        Distance of the camera over that of the reference.

    Returns
    -------
    JarDepth or None
        None when murk hides the bars, or the reference shows them unmoved.
    """
    usual, stretch = clear.fine.stretch - 1, sight.fine.stretch
    if usual <= 0 or not sight.fine.clearly_seen:
        return None
    per_stretch = distance_ratio / usual
    std = stretch.std * per_stretch
    if std > WELL_SEEN:
        return None
    return JarDepth(ratio=(stretch.value - 1) * per_stretch, std=std)


@dataclass(frozen=True, slots=True, kw_only=True)
class PathByBars:
    """Depth of the water along the line of sight.

    Attributes
    ----------
    path_mm : float
        The estimate [mm]; it grows in proportion to the camera's distance.
    distance_known : bool
        Whether the photo or the lens gives the distance; otherwise it is that of the stand.
    """

    path_mm: float
    distance_known: bool


def path_by_bars(sight: SightView, photo: Photo, placement: Placement) -> PathByBars:
    """Estimate the depth of clear water by the stretch of the fine bars.

    A layer of thickness d and index n brings what is behind it nearer by d (1 - 1/n), and bars at
    a distance D look larger by D / (D - d (1 - 1/n)).

    Parameters
    ----------
    sight : SightView
        The bars through clear water.
    photo, placement
        The photo, and where the sheet is in it.
    """
    known = _camera_distance_mm(photo, placement)
    distance = STAND_MM if known is None else known
    nearer = distance * (1 - 1 / max(sight.fine.stretch.value, 1.0))
    path_mm = max((nearer - BY_WALLS_MM) / (1 - 1 / WATER_INDEX), 1.0)
    return PathByBars(path_mm=path_mm, distance_known=known is not None)


def _camera_distance_mm(photo: Photo, placement: Placement) -> float | None:
    """Return the distance of the sheet by the focal length of the lens or of the photo's EXIF.

    The latter is that of the whole frame (CIPA DC-008-2023, FocalLengthIn35mmFilm), and tells
    nothing of a photo that was cropped.
    """
    height, width = photo.pixels.shape[:2]
    if placement.lens is not None:
        focal_px = float(placement.lens.matrix[0, 0]) * width / placement.lens.width_px
    elif photo.focal_35mm is not None and has_camera_shape((width, height)):
        focal_px = photo.focal_35mm / FILM_DIAGONAL_MM * hypot(width, height)
    else:
        return None
    return float(focal_px / placement.pixels_per_mm)
