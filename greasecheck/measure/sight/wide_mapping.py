"""Whether the camera evens out light and dark over wide surroundings, by bare paper.

Local tone mapping over some tens of millimetres keeps the contrast of bars and of the ladder's
fields, but lifts a dark jar against its dry twins. It also makes paper among dark patches lighter
than paper on bare ground, in a pattern that the print sets. A lamp does not follow the print, and a
shadow darkens paper and its surroundings alike.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.sheet.samples import sample_points

if TYPE_CHECKING:
    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.model import FloatArray, Photo, Placement

SURROUNDINGS_MM = 60.0  # standard deviation of the bell that they are averaged with
STEP_MM = 3.0  # from sample to sample
BEYOND_MM = 36.0  # of the sheet's edge that surroundings are looked at
LEAST_LIGHT = 2e-3  # keeps logarithms finite; full scale = 1
LEAST_WINDOWS = 10  # of paper: a quadratic of light and the lift are fitted to them
SURE = 2.0  # standard errors


def wide_lift(photo: Photo, placement: Placement, colour: ColourModel) -> float | None:
    """Return by how much paper surely lightens where its surroundings darken, both as logarithms.

    0 where it does not; None where too few windows of paper are seen. A camera that takes the share
    m from the contrast of surroundings has m / (1 - m) by its own picture, at most.
    """
    windows = placement.geometry.paper_windows
    centres = np.array([window.centre_mm for window in windows])
    logs = np.array([np.nan if log is None else log for log in colour.misfit.windows])
    shown = np.isfinite(logs)
    if shown.sum() < LEAST_WINDOWS:
        return None
    around = _surroundings(photo, placement, centres[shown])
    half = np.array([placement.geometry.width_mm, placement.geometry.height_mm]) / 2
    return lift_of(logs[shown], around, centres[shown] / half - 1)


def lift_of(paper: FloatArray, around: FloatArray, places: FloatArray) -> float:
    """Return the lift of paper by its surroundings that no smooth light explains.

    Parameters
    ----------
    paper, around : ndarray, shape (n,)
        Logarithms of the light of paper and of its surroundings.
    places : ndarray, shape (n, 2)
        Where the paper lies, in half sheets from the middle.
    """
    x, y = places.T
    smooth = np.column_stack([np.ones(len(x)), x, y, x**2, x * y, y**2])
    of_light = smooth @ np.linalg.pinv(smooth)
    paper, around = paper - of_light @ paper, around - of_light @ around
    spread = float(around @ around)
    slope = float(paper @ around) / spread
    left = paper - slope * around
    std = np.sqrt(float(left @ left) / (len(paper) - smooth.shape[1] - 1) / spread)
    return max(-slope - SURE * float(std), 0.0)


def _surroundings(photo: Photo, placement: Placement, centres_mm: FloatArray) -> FloatArray:
    """Average the logarithm of the picture around places on the sheet, shape (n,)."""
    geometry = placement.geometry
    x, y = (
        np.arange(-BEYOND_MM, size_mm + BEYOND_MM, STEP_MM)
        for size_mm in (geometry.width_mm, geometry.height_mm)
    )
    samples = sample_points(photo, placement, np.stack(np.meshgrid(x, y), axis=-1))
    seen = samples.seen.astype(np.float32)
    logs = np.log(np.maximum(samples.linear.mean(axis=-1), LEAST_LIGHT)) * seen
    across, down = (
        np.exp(-(((places - at[:, np.newaxis]) / SURROUNDINGS_MM) ** 2) / 2)
        for places, at in zip((x, y), centres_mm.T, strict=True)
    )
    total, weight = (((down @ one) * across).sum(axis=1) for one in (logs, seen))
    return np.asarray(total / weight)
