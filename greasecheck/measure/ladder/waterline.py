"""Finds where the water stands on a ladder, by how refraction moves its marks."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
from scipy import optimize

from greasecheck.measure.ladder.refraction import Surface, look
from greasecheck.measure.robust import MAD_TO_STD
from greasecheck.reference.ladder.plate import dip_ladder

if TYPE_CHECKING:
    from greasecheck.measure.ladder.light import Picture
    from greasecheck.measure.ladder.refraction import Eye
    from greasecheck.model import BoolArray, FloatArray

LEVEL_STEP_MM = 1.5
# A plate hung by hand is upright within so much; with twice as much, a level read in murky water,
# where only the upper end of the stripes shows, is twice as uncertain.
UPRIGHT_STD_RAD = np.radians(2.0)
EDGE_REACH_MM = 2.0  # an edge is sought so far about where it should be
EDGE_STEPS = 17
EDGE_STD_PX = 0.25
LEAST_STEP = 0.02  # of dry white: weaker edges are not used
FULL_STEP = 0.1  # from which an edge has its full weight
SURE_STEPS = 4.0  # an edge counts when it is so many standard deviations of the profile high
ROUNDS = 2
FEWEST_EDGES = 3
MOST_PEAKS, PEAK_REACH = 3, 3  # levels tried, and how many steps apart they are at least
# Contrast fades with depth: where rungs show twice the step of the stripes' upper ends above them,
# the fit is some rungs off. A level that is hides the ends altogether, in nothing but black.
LEAST_END_SHARE = 0.5
ENDS_COUNT = 8.0  # rungs that a stripe's upper end outweighs: all ends count as all rungs
FITTING_STD = 3.0  # standard deviations within which a mark speaks for a fit


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """Edges on the plate that run across.

    Attributes
    ----------
    places_mm : ndarray, shape (n, 2)
        Middle of each [mm].
    half_mm : ndarray, shape (n,)
        Half the width over which each is seen [mm].
    brighter : ndarray, shape (n,)
        1 where it is brighter below, -1 where darker.
    """

    places_mm: FloatArray
    half_mm: FloatArray
    brighter: FloatArray

    @property
    def ends(self) -> BoolArray:
        """Return which are the upper ends of stripes, shape (n,)."""
        columns = [column.centre_mm[0] for column in dip_ladder().rungs.columns]
        upper: BoolArray = ~np.isin(self.places_mm[:, 0], columns)
        return upper


@dataclass(frozen=True, slots=True, kw_only=True)
class Waterline:
    """The surface on the plate, and how well its marks fit.

    Attributes
    ----------
    surface : Surface
        The fit.
    level_std_mm : float
        Standard error of the level [mm].
    edges : int
        Marks that were seen.
    residual_px : float
        Robust root-mean-square distance of the marks from the fit [px].
    misfit_mm : float
        What four in five marks keep to on the plate [mm].
    merit : float
        By how much the marks seen outweigh those that should be.
    end_step, rung_step : float
        Steps of light at the stripes' upper ends, and at the rungs that were seen, medians, over
        dry white; 0 where no rung was.
    """

    surface: Surface
    level_std_mm: float
    edges: int
    residual_px: float
    misfit_mm: float
    merit: float
    end_step: float
    rung_step: float

    @property
    def ends_show(self) -> bool:
        """Return whether the stripes' upper ends show where the rungs below them do."""
        return self.end_step >= LEAST_END_SHARE * self.rung_step


@cache
def marks() -> Marks:
    """Return the upper ends of the white stripes and all edges of the rungs."""
    plate = dip_ladder()
    rows: list[tuple[float, float, float, float]] = []
    fields = (
        (plate.stripes.fine, plate.stripes.fine_bar_mm),
        (plate.stripes.coarse, plate.stripes.coarse_bar_mm),
    )
    for field, bar in fields:
        rows += [
            (field.x_mm + (number + 0.5) * bar, field.y_mm, 0.25 * bar, 1.0)
            for number in range(0, round(field.width_mm / bar), 2)
        ]
    for column in plate.rungs.columns:
        for number in range(round(column.height_mm / plate.rungs.step_mm)):
            y = column.y_mm + number * plate.rungs.step_mm
            sign = 1.0 if number % 2 == 0 else -1.0
            rows.append((column.centre_mm[0], y, 0.3 * column.width_mm, sign))
    table = np.array(rows)
    return Marks(places_mm=table[:, :2], half_mm=table[:, 2], brighter=table[:, 3])


def find_waterline(picture: Picture, eye: Eye) -> Waterline | None:
    """Solve for level, lean and roll of the water's surface; None when no mark shows it.

    Parameters
    ----------
    picture : Picture
        The ladder's part of the photo.
    eye : Eye
        The camera before the ladder, by the markers above the water.
    """
    plate = dip_ladder()
    middle = plate.width_mm / 2
    low, high = plate.waterline_range_mm
    levels = np.arange(low, high + LEVEL_STEP_MM / 2, LEVEL_STEP_MM)
    guesses = [
        Surface(level_mm=float(level), lean_rad=0.0, roll_rad=0.0, middle_mm=middle)
        for level in levels
    ]
    scores = np.array([_score(picture, eye, guess) for guess in guesses])
    tried = [_improved(picture, eye, guesses[place]) for place in _peaks(scores)]
    found = [one for one in tried if one is not None and one.ends_show]
    if not found:
        return None
    best = max(found, key=lambda one: one.merit)
    best = _improved(picture, eye, best.surface) or best
    inside = low - LEVEL_STEP_MM <= best.surface.level_mm <= high + LEVEL_STEP_MM
    return best if inside else None


def _peaks(scores: FloatArray) -> list[int]:
    """Return where the scores are highest, each at least a rung's move from the others."""
    left = scores.copy()
    peaks: list[int] = []
    while len(peaks) < MOST_PEAKS:
        best = int(np.argmax(left))
        peaks.append(best)
        left[max(best - PEAK_REACH, 0) : best + PEAK_REACH + 1] = -np.inf
        if not np.isfinite(left).any():
            break
    return peaks


def _improved(picture: Picture, eye: Eye, surface: Surface) -> Waterline | None:
    """Solve from a guess; None when too few marks show."""
    found: Waterline | None = None
    for _ in range(ROUNDS):
        seen, pixels, step = _edges(picture, eye, surface)
        if seen.sum() < FEWEST_EDGES:
            return None
        found = _solved(eye, surface, seen, pixels, step)
        surface = found.surface
    return found


def _profiles(picture: Picture, eye: Eye, surface: Surface) -> FloatArray:
    """Return the light across each mark, shape (marks, steps), signed to rise."""
    known = marks()
    offsets = np.linspace(-EDGE_REACH_MM, EDGE_REACH_MM, EDGE_STEPS)
    aside = np.array([-1.0, 0.0, 1.0])
    x = known.places_mm[:, 0, None, None] + known.half_mm[:, None, None] * aside[:, None]
    y = known.places_mm[:, 1, None, None] + offsets
    x, y = np.broadcast_arrays(x, y)
    sight = look(eye, surface, np.column_stack([x.ravel(), y.ravel()]))
    light = picture.at(sight.pixels)[:, 1].reshape(x.shape).mean(axis=1)
    signed: FloatArray = light * known.brighter[:, None]
    return signed


def _score(picture: Picture, eye: Eye, surface: Surface) -> float:
    """Return how much the light rises at all marks together, each rise at least at its middle."""
    light = _profiles(picture, eye, surface)
    half = EDGE_STEPS // 2
    rise = light[:, half + 2 :].mean(axis=1) - light[:, : half - 1].mean(axis=1)
    slope = np.diff(light, axis=1)
    centred = (slope * np.hanning(slope.shape[1] + 2)[1:-1]).sum(axis=1)
    weight = np.where(marks().ends, 3.0, 1.0)  # rungs repeat, the stripes have one upper end
    return float(weight @ (np.clip(rise, -0.05, 0.5) + 2 * np.clip(centred, -0.05, 0.5)))


def _edges(
    picture: Picture, eye: Eye, surface: Surface
) -> tuple[BoolArray, FloatArray, FloatArray]:
    """Return which marks show, where on the picture, and the step of light at each."""
    light = _profiles(picture, eye, surface)
    rise = np.clip(np.diff(light, axis=1), 0, None)
    total = rise.sum(axis=1)
    offsets = np.linspace(-EDGE_REACH_MM, EDGE_REACH_MM, EDGE_STEPS)
    middles = (offsets[1:] + offsets[:-1]) / 2
    shift = (rise * middles).sum(axis=1) / np.maximum(total, 1e-9)
    step = light[:, -4:].mean(axis=1) - light[:, :4].mean(axis=1)
    noise = np.abs(np.diff(light, n=2, axis=1)).mean(axis=1) / 2
    seen = (step > LEAST_STEP) & (step > SURE_STEPS * noise) & (np.abs(shift) < EDGE_REACH_MM / 2)
    moved = marks().places_mm + np.column_stack([np.zeros_like(shift), shift])
    pixels = look(eye, surface, moved).pixels
    unmoved = look(eye, surface, marks().places_mm).pixels
    return seen, np.where(np.isfinite(pixels), pixels, unmoved), step


def _solved(
    eye: Eye, surface: Surface, seen: BoolArray, pixels: FloatArray, step: FloatArray
) -> Waterline:
    """Fit level, lean and roll to where the marks are seen; lean and roll have a prior."""
    places, aim = marks().places_mm[seen], pixels[seen]
    weight = np.minimum(step / FULL_STEP, 1.0)
    scale = weight[seen] / EDGE_STD_PX
    down = _down(eye, surface, places)

    def misses(values: FloatArray) -> FloatArray:
        level, lean, roll = values
        trial = replace(surface, level_mm=float(level), lean_rad=float(lean), roll_rad=float(roll))
        away = ((look(eye, trial, places).pixels - aim) * down).sum(axis=1) * scale
        return np.concatenate([away, np.array([lean, roll]) / UPRIGHT_STD_RAD])

    start = np.array([surface.level_mm, surface.lean_rad, surface.roll_rad])
    fit = optimize.least_squares(misses, start, loss="soft_l1", x_scale=[1.0, 0.02, 0.02])
    covariance = np.linalg.pinv(fit.jac.T @ fit.jac)
    level, lean, roll = (float(value) for value in fit.x)
    away = misses(fit.x)[:-2] / scale
    rms = float(MAD_TO_STD * np.sqrt(np.median(away**2)))
    rungs = seen & ~marks().ends
    return Waterline(
        surface=replace(surface, level_mm=level, lean_rad=lean, roll_rad=roll),
        level_std_mm=float(np.sqrt(covariance[0, 0]) * max(1.0, rms / EDGE_STD_PX)),
        edges=int(seen.sum()),
        merit=_merit(seen, weight, away),
        residual_px=rms,
        misfit_mm=_misfit_mm(eye, surface, places, away),
        end_step=float(np.median(step[marks().ends])),
        rung_step=float(np.median(step[rungs])) if rungs.any() else 0.0,
    )


def _misfit_mm(eye: Eye, surface: Surface, places: FloatArray, away_px: FloatArray) -> float:
    here = look(eye, surface, places).pixels
    below = look(eye, surface, places + np.array([0.0, 1.0])).pixels
    per_mm = np.maximum(np.linalg.norm(below - here, axis=1), 0.05)
    return float(np.percentile(np.abs(away_px) / per_mm, 80))


def _merit(seen: BoolArray, weight: FloatArray, away_px: FloatArray) -> float:
    """Weigh the marks that are seen and fit; rungs repeat and fit wrong levels too.

    A mark that is far from where the fit wants it counts against it.
    """
    ends = marks().ends[seen]
    fitting = 1 - np.minimum((away_px / (FITTING_STD * EDGE_STD_PX)) ** 2, 2.0)
    return float((weight[seen] * fitting * np.where(ends, ENDS_COUNT, 1.0)).sum())


def _down(eye: Eye, surface: Surface, places: FloatArray) -> FloatArray:
    """Return the direction down the plate in the picture at each place, unit vectors."""
    here = look(eye, surface, places).pixels
    below = look(eye, surface, places + np.array([0.0, 1.0])).pixels
    way = below - here
    return np.asarray(way / np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-9))
