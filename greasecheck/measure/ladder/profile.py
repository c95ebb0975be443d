"""Samples the stripes from each depth: contrast of 3 and 8 mm, light of white, their scatter."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import ndimage

from greasecheck.measure.ladder.refraction import look
from greasecheck.measure.ladder.slopes import FEWEST_BINS, LEAST_SHARE, Profile
from greasecheck.reference.ladder.plate import dip_ladder
from greasecheck.reference.srgb import POWER, TOE_END_LIGHT

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.measure.ladder.light import Picture
    from greasecheck.measure.ladder.refraction import Eye, Sight, Surface
    from greasecheck.model import BoolArray, Box, FloatArray

BIN_MM = 2.5
LEAST_BIN_PX = 1.3  # lower bins would share their pixels
MIDDLE_SHARE = 0.5  # of a stripe's width, so that blur from its neighbours stays out
ACROSS, DOWN = 5, 3  # samples in a stripe and bin
SMOOTHED_BINS = 9  # over which the scatter is taken together
# Of blur below the stripes' upper end. Signs are sought from the first on, so that stripes which
# end just below it show. Decays are fitted from the second on: the first leaves the uppermost bin
# short of 2.7 % of its contrast in murk of 40 per m and more.
EDGE_PX, SHARP_EDGE_PX = 1.5, 2.5
LEAST_STD = 3e-4
LEAST_PX_PER_MM = 1e-3  # keeps a height finite
PHASE_STEP_MM = 0.5
CLEAR_PHASE_SHARE = 0.01  # of the strongest power: bins in which the phase is no chance
MOST_ASIDE_SHARE = 0.6  # of a stripe: beyond it the phase is taken for chance
MIRROR_MARGIN_MM = 3.0
MIDDLE_DEPTH_MM = 40.0  # below the stripes' upper end, where scales are taken
CODE_WEIGHTS = np.array([0.299, 0.587, 0.114])  # of R, G, B in brightness; ITU-T T.871, 7
NEAR_BINS = 16  # from whose angles that of the view is taken: the upper 40 mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """The stripes of one width, by depth.

    Attributes
    ----------
    contrast, white, std : ndarray, shape (bins,)
        White less black, white, and the standard error of either, green.
    stripes : ndarray, shape (bins, stripes)
        Light of each stripe, green.
    tint : ndarray, shape (bins, 3)
        Light of white in R, G, B.
    contrasts : ndarray, shape (bins, 3)
        White less black in R, G, B.
    """

    contrast: FloatArray
    white: FloatArray
    std: FloatArray
    stripes: FloatArray
    tint: FloatArray
    contrasts: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Sampled:
    """All that is sampled of a ladder.

    Attributes
    ----------
    places_mm : ndarray, shape (bins,)
        y of each bin's middle on the plate [mm].
    sight : Sight
        Sight lines to the middle of the plate in each bin.
    fine, coarse : Field
        The stripes.
    inside : ndarray of bool, shape (bins,)
        Which bins lie in the photo, below the surface, and clear of the mirror image of dry
        stripes.
    stripe_px : float
        How wide a stripe of 3 mm is seen, 40 mm below its upper end [px].
    bent_mm : float
        How far the stripes stray from straight lines [mm].
    coarse_aside_mm : float
        How far stripes of 8 mm are seen aside of where those of 3 mm put them [mm].
    """

    places_mm: FloatArray
    sight: Sight
    fine: Field
    coarse: Field
    inside: BoolArray
    stripe_px: float
    bent_mm: float
    coarse_aside_mm: float

    @property
    def view_cos(self) -> float:
        """Return the cosine of the angle in air between sight line and upright."""
        near = self.sight.cos_air[self.inside][:NEAR_BINS]
        return float(np.mean(near)) if len(near) else float("nan")

    def colour(self, channel: int) -> Profile:
        """Return what is seen of R, G or B (0, 1, 2)."""
        return self._profile(np.eye(3)[[channel]])

    def brightness(self) -> Profile:
        """Return what is seen of brightness.

        What changes the codes of all colours by the weights of brightness, JPEG's errors of colour
        leave alone; light changes codes the more the darker it is.
        """
        light = (self.fine.tint - self.fine.contrasts / 2)[self.inside]
        weights = CODE_WEIGHTS * np.maximum(light, TOE_END_LIGHT) ** (1 / POWER - 1)
        return self._profile(weights / weights.sum(axis=1, keepdims=True))

    def _profile(self, weights: FloatArray) -> Profile:
        """Weigh R, G, B alike at all depths, shape (1, 3), or at each, shape (bins inside, 3)."""
        keep = self.inside
        fine, coarse, white = (
            (weights * light[keep]).sum(axis=1)
            for light in (self.fine.contrasts, self.coarse.contrasts, self.coarse.tint)
        )
        return Profile(
            depth_mm=self.sight.depth_mm[keep],
            mirrors_black=_mirrors_black(self.sight)[keep],
            path_m=self.sight.path_mm[keep] / 1000,
            fine=fine,
            coarse=coarse,
            white=white,
            fine_std=self.fine.std[keep],
            coarse_std=self.coarse.std[keep],
            white_std=self.coarse.std[keep],
        )


def sample_ladder(
    picture: Picture, eye: Eye, surface: Surface, edge_px: float = EDGE_PX
) -> Sampled:
    """Sample the stripes from some pixels below their upper end down to the plate's lower end."""
    plate = dip_ladder()
    field = plate.stripes.fine
    middle = plate.width_mm / 2
    per_mm = _px_per_mm_down(eye, surface, field)
    step = max(BIN_MM, LEAST_BIN_PX / per_mm)
    start = field.y_mm + max(BIN_MM / 2, edge_px / per_mm)
    places = np.arange(start + step / 2, field.y_mm + field.height_mm - step / 2, step)
    sight = look(eye, surface, np.column_stack([np.full_like(places, middle), places]))
    fields = (
        (field, plate.stripes.fine_bar_mm),
        (plate.stripes.coarse, plate.stripes.coarse_bar_mm),
    )
    fine_waves, coarse_waves = (
        _waves(picture, eye, surface, places, box, bar) for box, bar in fields
    )
    aside, bent_mm = _aside_mm(fine_waves, places)
    grids = [_grid(box, bar, places, aside, step) for box, bar in fields]
    fine, coarse = (
        _field(picture, eye, surface, grid, box, bar)
        for grid, (box, bar) in zip(grids, fields, strict=True)
    )
    inside = _inside(picture, sight) & _clear_of_mirror(surface, sight, field.y_mm)
    return Sampled(
        places_mm=places,
        sight=sight,
        fine=fine,
        coarse=coarse,
        inside=inside,
        stripe_px=_stripe_px(eye, surface),
        bent_mm=bent_mm,
        coarse_aside_mm=_coarse_aside_mm(coarse_waves, aside),
    )


def _stripe_px(eye: Eye, surface: Surface) -> float:
    field, bar = dip_ladder().stripes.fine, dip_ladder().stripes.fine_bar_mm
    x, y = field.centre_mm[0], field.y_mm + MIDDLE_DEPTH_MM
    here, beside, below = look(eye, surface, np.array([[x, y], [x + bar, y], [x, y + 1.0]])).pixels
    way = (below - here) / max(float(np.linalg.norm(below - here)), 1e-9)
    aside = beside - here
    return float(abs(aside[0] * way[1] - aside[1] * way[0]))


def _px_per_mm_down(eye: Eye, surface: Surface, field: Box) -> float:
    """Return how many pixels a millimetre down the plate spans, 40 mm below the upper end."""
    x, y = field.centre_mm[0], field.y_mm + MIDDLE_DEPTH_MM
    pixels = look(eye, surface, np.array([[x, y], [x, y + 1.0]])).pixels
    return max(float(np.hypot(*(pixels[1] - pixels[0]))), LEAST_PX_PER_MM)


def _inside(picture: Picture, sight: Sight) -> BoolArray:
    rows, columns = picture.linear.shape[:2]
    away = sight.pixels - picture.corner_px
    within = np.all((away > 1) & (away < np.array([columns, rows]) - 2), axis=1)
    return np.asarray(within) & (sight.depth_mm > 0)


def _clear_of_mirror(surface: Surface, sight: Sight, top_mm: float) -> BoolArray:
    """Return what lies deeper than the mirror image of stripes that have fallen dry."""
    clear: BoolArray = sight.mirrored_mm < top_mm - MIRROR_MARGIN_MM
    return clear if surface.level_mm > top_mm else np.ones_like(clear)


def _mirrors_black(sight: Sight) -> BoolArray:
    """Return where the water mirrors the black above the stripes, not what is above the plate.

    All counts in views from straight above, too steep for any limit, where none of it is mirrored.
    """
    mirrors: BoolArray = sight.mirrored_mm > dip_ladder().black.y_mm + MIRROR_MARGIN_MM
    return mirrors if mirrors.sum() >= FEWEST_BINS else np.ones_like(mirrors)


def _waves(
    picture: Picture, eye: Eye, surface: Surface, places: FloatArray, box: Box, bar_mm: float
) -> NDArray[np.complex128]:
    """Return contrast and phase of the stripes in each bin, by whole periods of two stripes."""
    width = box.width_mm // (2 * bar_mm) * 2 * bar_mm
    x = np.arange(box.x_mm + PHASE_STEP_MM / 2, box.x_mm + width, PHASE_STEP_MM)
    grid_x, grid_y = np.meshgrid(x, places)
    sight = look(eye, surface, np.column_stack([grid_x.ravel(), grid_y.ravel()]))
    light = picture.at(sight.pixels)[:, 1].reshape(grid_x.shape)
    middle = box.x_mm + bar_mm / 2
    # a square wave of contrast 1 has 1 / pi of it at its period
    return np.asarray(np.pi * (light @ np.exp(-1j * np.pi * (x - middle) / bar_mm)) / len(x))


def _aside_mm(waves: NDArray[np.complex128], places: FloatArray) -> tuple[FloatArray, float]:
    """Return how far aside the stripes of 3 mm are seen, by depth, and their scatter [mm].

    By the phase in each bin, weighed by its strength; a straight line over the depth, as errors of
    the camera's place make.
    """
    bar = dip_ladder().stripes.fine_bar_mm
    strength = np.abs(waves) ** 2
    deviation = -np.angle(waves) * bar / np.pi
    usable = np.abs(deviation) < MOST_ASIDE_SHARE * bar
    weight = np.sqrt(strength * usable) + 1e-12
    line = np.polynomial.Polynomial.fit(places, deviation, 1, w=weight)
    shown = strength > CLEAR_PHASE_SHARE * strength.max()
    bent = np.sqrt(np.mean((deviation - line(places))[shown] ** 2))
    return np.clip(line(places), -bar / 2, bar / 2), float(bent)


def _coarse_aside_mm(waves: NDArray[np.complex128], aside: FloatArray) -> float:
    """Return how far aside of a line the stripes of 8 mm are seen, all depths together [mm].

    Where they show at all.
    """
    bar = dip_ladder().stripes.coarse_bar_mm
    shown = np.abs(waves) > LEAST_SHARE
    turned = (waves * np.exp(1j * np.pi * aside / bar))[shown].sum()
    return float(abs(np.angle(turned)) * bar / np.pi)


def _grid(
    box: Box, bar_mm: float, places: FloatArray, aside: FloatArray, step: float
) -> FloatArray:
    """Return points on the plate, shape (bins, stripes, samples, 2)."""
    count = round(box.width_mm / bar_mm)
    middles = box.x_mm + (np.arange(count) + 0.5) * bar_mm
    across = np.linspace(-0.5, 0.5, ACROSS) * MIDDLE_SHARE * bar_mm
    down = np.linspace(-0.4, 0.4, DOWN) * step
    shape = (len(places), count, ACROSS, DOWN)
    x = middles[:, None, None] + across[:, None] + aside[:, None, None, None]
    y = places[:, None, None, None] + down
    both = np.stack([np.broadcast_to(x, shape), np.broadcast_to(y, shape)], axis=-1)
    return both.reshape(len(places), count, ACROSS * DOWN, 2)


def _field(
    picture: Picture, eye: Eye, surface: Surface, grid: FloatArray, box: Box, bar_mm: float
) -> Field:
    sight = look(eye, surface, grid.reshape(-1, 2))
    light = picture.at(sight.pixels).reshape(*grid.shape[:3], 3)
    middles = np.asarray(box.x_mm + (np.arange(grid.shape[1]) + 0.5) * bar_mm, dtype=np.float64)
    return _contrasts(np.asarray(light.mean(axis=2), dtype=np.float64), middles)


def _contrasts(stripes: FloatArray, middles: FloatArray) -> Field:
    """Fit white, black and a straight change of light across the field, in each bin.

    `stripes` has shape (bins, stripes, 3); the first stripe is white.
    """
    is_white = (np.arange(len(middles)) % 2 == 0).astype(float)
    away = (middles - middles.mean()) / np.ptp(middles)
    design = np.column_stack([is_white, np.ones_like(away), away])
    solve = np.linalg.pinv(design)
    found = np.einsum("ks,bsc->bkc", solve, stripes)
    left = stripes - np.einsum("sk,bkc->bsc", design, found)
    freedom = len(middles) - design.shape[1]
    scatter = np.sqrt((left[:, :, 1] ** 2).sum(axis=1) / freedom)
    smooth = ndimage.median_filter(scatter, size=SMOOTHED_BINS, mode="nearest")
    spread = np.sqrt(np.linalg.inv(design.T @ design)[0, 0])
    white = found[:, 0] + found[:, 1]
    return Field(
        contrast=found[:, 0, 1],
        white=white[:, 1],
        std=np.hypot(np.maximum(scatter, smooth) * spread, LEAST_STD),
        stripes=stripes[:, :, 1],
        tint=white,
        contrasts=found[:, 0],
    )
