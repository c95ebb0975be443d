"""The linear light of a ladder's picture, in units of its dry white."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.measure.colour.tone_curve import fit_tone, identity_tone
from greasecheck.reference.ladder.plate import dip_ladder

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from greasecheck.measure.colour.tone_curve import ToneCurve
    from greasecheck.measure.ladder.refraction import Eye
    from greasecheck.model import BoolArray, Box, FloatArray, Photo

MARGIN_PX = 12
INSET_SHARE = 0.2  # of a patch's shorter side is left out along its edges, where blur mixes
# Of a black stripe's width, on either side, where its light is compared with that of wide black:
# where it is 8 px wide, a Gaussian blur of 0.9 px adds up to 0.02 of the black's own light to what
# is kept; with half as much left out, up to 0.7.
EDGE_SHARE = 0.3
GRID = 7  # samples along each side of a patch
# How well the reflectance of printed greys is known: printers differ by about a tenth, the black
# of toner by more; from memory. With twice as much the curve stays closer to the profile's.
GREY_LOG_STD, BLACK_LOG_STD = 0.08, 0.2
LEAST_LIGHT = 1e-4
LIKE_CODES = 1.0  # of 255: R, G and B that differ by no more are alike except for rounding


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """The part of a photo that holds a ladder.

    Attributes
    ----------
    linear : ndarray, shape (rows, columns, 3), float32
        Light by the photo's profile, 0 to 1.
    corner_px : ndarray, shape (2,)
        Where its upper left pixel lies in the photo.
    tone : ToneCurve
        Scales that light to what the greys require.
    white : ndarray, shape (3,)
        Light of dry white after `tone`.
    colourless_share : float
        Share of its pixels whose R, G and B are alike.
    """

    linear: NDArray[np.float32]
    corner_px: FloatArray
    tone: ToneCurve
    white: FloatArray
    colourless_share: float

    def at(self, pixels: FloatArray) -> FloatArray:
        """Return light over dry white at pixels, shape (n, 2), as shape (n, 3)."""
        return self.tone(_sampled(self.linear, pixels - self.corner_px)) / self.white


@dataclass(frozen=True, slots=True, kw_only=True)
class Greys:
    """The greys as seen.

    Attributes
    ----------
    values : ndarray, shape (n, 3)
        Light by the profile.
    spread : ndarray, shape (n,)
        Relative scatter within each, green.
    reflectances : ndarray, shape (n,)
        What each reflects.
    left : ndarray of bool, shape (n,)
        Which lie on the left half.
    wide : ndarray of bool, shape (n,)
        Which lie in the wide black between the wings.
    narrow_black : float
        Light of the middles of the black stripes, green.
    """

    values: FloatArray
    spread: FloatArray
    reflectances: FloatArray
    left: BoolArray
    wide: BoolArray
    narrow_black: float


def open_picture(photo: Photo, eye: Eye, outline_px: FloatArray) -> tuple[Picture, Greys]:
    """Cut a ladder out of a photo and find the tone curve by its greys.

    Parameters
    ----------
    photo : Photo
        The photo.
    eye : Eye
        The camera before this ladder.
    outline_px : ndarray, shape (n, 2)
        Pixels around the ladder.
    """
    device, corner = _cut(photo, outline_px)
    linear = _linear(photo, device)
    greys = _greys(linear, corner, eye)
    whites = greys.reflectances == greys.reflectances.max()
    tone = _tone(greys)
    white = np.maximum(tone(greys.values[whites].mean(axis=0)), LEAST_LIGHT)
    picture = Picture(
        linear=linear,
        corner_px=corner,
        tone=tone,
        white=white,
        colourless_share=_colourless_share(device, photo.full_scale),
    )
    return picture, greys


def _cut(photo: Photo, outline_px: FloatArray) -> tuple[NDArray[np.integer], FloatArray]:
    """Return the codes around an outline, and where their upper left pixel lies."""
    height, width = photo.pixels.shape[:2]
    low = np.clip(np.floor(outline_px.min(axis=0)) - MARGIN_PX, 0, [width - 2, height - 2])
    high = np.clip(np.ceil(outline_px.max(axis=0)) + MARGIN_PX, low + 2, [width, height])
    (left, top), (right, bottom) = low.astype(int), high.astype(int)
    return photo.pixels[top:bottom, left:right], np.asarray(low, dtype=np.float64)


def _linear(photo: Photo, device: NDArray[np.integer]) -> NDArray[np.float32]:
    table = photo.transfer
    index = device.astype(np.intp) * (len(table) - 1) // photo.full_scale
    return np.stack([table[index[:, :, k], k] for k in range(3)], axis=2).astype(np.float32)


def _colourless_share(device: NDArray[np.integer], full_scale: int) -> float:
    red, green, blue = np.moveaxis(device, 2, 0)  # five times as fast as along the short axis
    most, least = np.maximum(np.maximum(red, green), blue), np.minimum(np.minimum(red, green), blue)
    unlike = most - least
    return float((unlike <= LIKE_CODES * full_scale / 255).mean())


def _sampled(linear: NDArray[np.float32], pixels: FloatArray) -> FloatArray:
    x, y = np.ascontiguousarray(pixels.T.astype(np.float32))
    found = [
        cv2.remap(linear, x[part], y[part], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        for part in _parts(len(x))
    ]
    return np.concatenate(found).reshape(-1, 3).astype(np.float64)


def _parts(length: int) -> Sequence[slice]:
    """Return slices that OpenCV's remap takes: it counts rows in 16 bits."""
    return [slice(start, start + 30000) for start in range(0, length, 30000)]


def _greys(linear: NDArray[np.float32], corner: FloatArray, eye: Eye) -> Greys:
    plate = dip_ladder()
    patches = [(grey.reflectance, box) for grey in plate.greys.values() for box in grey.boxes]
    patches += [(plate.greys["black"].reflectance, box) for box in _dry_blacks()]
    values, spreads = [], []
    for _, box in patches:
        seen = _sampled(linear, eye.project(_grid(box)) - corner)
        values.append(np.median(seen, axis=0))
        spreads.append(seen[:, 1].std() / max(seen[:, 1].mean(), LEAST_LIGHT))
    middles = [
        _sampled(linear, eye.project(_grid(stripe.inset(EDGE_SHARE * stripe.width_mm))) - corner)
        for stripe in _dry_stripes()
    ]
    return Greys(
        values=np.maximum(np.array(values), LEAST_LIGHT),
        spread=np.array(spreads),
        reflectances=np.array([reflectance for reflectance, _ in patches]),
        left=np.array([box.x_mm < plate.width_mm / 2 for _, box in patches]),
        wide=np.array([plate.black.x_mm < box.x_mm < plate.wings[1].x_mm for _, box in patches]),
        narrow_black=float(np.median([np.median(seen[:, 1]) for seen in middles])),
    )


def _dry_stripes() -> tuple[Box, ...]:
    """Return the black stripes of the dry coarse twin."""
    twin, bar = dip_ladder().stripes.dry_coarse, dip_ladder().stripes.coarse_bar_mm
    count = round(twin.width_mm / bar)
    return tuple(_part(twin, number * bar, bar) for number in range(1, count, 2))


def _dry_blacks() -> tuple[Box, ...]:
    """Return the black stripes of the dry coarse twin, and parts of the black between the wings."""
    black = dip_ladder().black
    return (*_dry_stripes(), _part(black, 10.0, 15.0), _part(black, 80.0, 15.0))


def _part(box: Box, start_mm: float, width_mm: float) -> Box:
    """Return an upright part of a box, no lower than the wings."""
    height = min(box.height_mm, dip_ladder().wings[0].height_mm)
    return type(box)(x_mm=box.x_mm + start_mm, y_mm=box.y_mm, width_mm=width_mm, height_mm=height)


def _grid(box: Box) -> FloatArray:
    """Return points over a patch, shape (n, 3), its edges left out."""
    inner = box.inset(INSET_SHARE * min(box.width_mm, box.height_mm))
    x = np.linspace(inner.x_mm, inner.x_mm + inner.width_mm, GRID)
    y = np.linspace(inner.y_mm, inner.y_mm + inner.height_mm, GRID)
    across, down = (axis.ravel() for axis in np.meshgrid(x, y))
    return np.column_stack([across, down, np.zeros(across.size)])


def _tone(greys: Greys) -> ToneCurve:
    """Fit the tone curve; each wing has its own light, measured on its white."""
    green = greys.values[:, 1]
    top = greys.reflectances.max()
    if green.min() >= green.max() / 2:
        return identity_tone()
    level = np.empty_like(green)
    for side in (True, False):
        here = greys.left == side
        level[here] = green[here & (greys.reflectances == top)].mean()
    expected = greys.reflectances / top * level
    dark = greys.reflectances == greys.reflectances.min()
    std = np.where(dark, BLACK_LOG_STD, GREY_LOG_STD)
    return fit_tone(green, expected, np.hypot(std, greys.spread))
