"""What a picture shows of its exposure, colours, greys and dry contrast."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.reference.ladder.plate import dip_ladder
from greasecheck.reference.srgb import srgb_of_linear

if TYPE_CHECKING:
    from greasecheck.measure.ladder.light import Greys, Picture
    from greasecheck.measure.ladder.profile import Sampled
    from greasecheck.measure.ladder.refraction import Eye
    from greasecheck.model import Box, FloatArray

CLIPPED = 0.985  # of full scale by the profile
STRIPE_SAMPLES = 9
FEWEST_SHOWN = 4  # bins in which white and black differ, for their colours to be compared
LEAST_BLACK = 1e-4  # full scale = 1; keeps the logarithm finite where all is black
# By how many codes of 255 white and black differ where their colours are compared, and how much
# colour there is at least that could be lost.
SHOWN_CODES, LEAST_COLOUR_CODES = 20.0, 5.0
COLOUR_STRIPE_PX = 5.0  # JPEG at half the size of colour keeps three quarters of it in these
INK_SHARE = 0.053  # light of the printed black over that of white: 0.045 / 0.85


def aside_deg(eye: Eye) -> float:
    """Return how far to the side of the plate's middle the camera stands [degrees]."""
    across = abs(eye.place_mm[0] - dip_ladder().width_mm / 2)
    return float(np.degrees(np.arctan2(across, abs(eye.place_mm[2]))))


def dry_contrasts(picture: Picture, eye: Eye) -> tuple[float, float]:
    """Return white less black over white of the dry twins of 3 and of 8 mm; 1 for sound ones."""
    stripes = dip_ladder().stripes
    pairs = (
        (stripes.dry_fine, stripes.fine_bar_mm),
        (stripes.dry_coarse, stripes.coarse_bar_mm),
    )
    fine, coarse = (_dry_contrast(picture, eye, box, bar) for box, bar in pairs)
    return fine, coarse


def _dry_contrast(picture: Picture, eye: Eye, box: Box, bar_mm: float) -> float:
    count = round(box.width_mm / bar_mm)
    x = box.x_mm + (np.arange(count) + 0.5) * bar_mm
    y = np.linspace(box.y_mm + 3.0, box.y_mm + box.height_mm - 3.0, STRIPE_SAMPLES)
    grid_x, grid_y = np.meshgrid(x, y)
    points = np.column_stack([grid_x.ravel(), grid_y.ravel(), np.zeros(grid_x.size)])
    light = np.median(picture.at(eye.project(points))[:, 1].reshape(grid_x.shape), axis=0)
    white, black = float(np.median(light[0::2])), float(np.median(light[1::2]))
    return (white - black) / max(white, 1e-6) / (1 - INK_SHARE)


def clipped_share(picture: Picture, sampled: Sampled) -> float:
    """Return the share of the pixels around the upper stripes at the top of the scale."""
    pixels = sampled.sight.pixels[sampled.inside] - picture.corner_px
    if not len(pixels):
        return 1.0
    low, high = pixels.min(axis=0).astype(int), pixels.max(axis=0).astype(int) + 1
    wide = max(int(high[1] - low[1]), 20)
    columns = slice(max(low[0] - wide // 2, 0), high[0] + wide // 2)
    part = picture.linear[low[1] : high[1], columns]
    return float((part.max(axis=2) > CLIPPED).mean()) if part.size else 1.0


def colour_detail(picture: Picture, sampled: Sampled) -> float:
    """Return how far white and black stripes differ in colour, over all colour in the picture.

    A camera that smears colours, as against noise in dim light, gives white and black stripes the
    same colour, so that their contrast in R, G and B becomes that of brightness. Taken from the
    narrowest stripes in which JPEG keeps colours; 1 where the picture has hardly any colour.
    """
    codes = _stripe_codes(picture, sampled)
    light = codes[:, 0, :, 1] - codes[:, 1, :, 1]
    shown = light.min(axis=0) > SHOWN_CODES
    if shown.sum() < FEWEST_SHOWN:
        return 1.0
    codes, light = codes[:, :, shown], light[:, shown]
    colours = codes[..., [0, 2]] - codes[..., [1]]
    wide, narrow = colours[:, 0] - colours[:, 1]
    whole = float(np.hypot(_rms(wide), _rms(colours[0].mean(axis=0))))
    if whole < LEAST_COLOUR_CODES:
        return 1.0
    if sampled.stripe_px < COLOUR_STRIPE_PX:
        return _rms(wide) / whole
    return _rms(narrow * (light[0] / light[1])[:, None]) / whole


def _stripe_codes(picture: Picture, sampled: Sampled) -> FloatArray:
    """Return codes of 255 of stripes of 8 and 3 mm, white and black, shape (2, 2, bins, 3)."""
    fields = (sampled.coarse, sampled.fine)
    light = np.array([(field.tint, field.tint - field.contrasts) for field in fields])
    return 255 * srgb_of_linear(np.clip(light[:, :, sampled.inside] * picture.white, 0, 1))


def _rms(values: FloatArray) -> float:
    return float(np.sqrt(np.mean(values**2)))


def grey_misfit(picture: Picture, greys: Greys) -> float:
    """Return how far greys lie from what they should, the worst but one, in logarithms."""
    light = np.maximum(picture.tone(greys.values[:, 1]), 1e-6)
    top = greys.reflectances == greys.reflectances.max()
    grey = greys.reflectances > greys.reflectances.min()
    misses = [
        np.log(light[side & grey] / light[side & top].mean())
        - np.log(greys.reflectances[side & grey] / greys.reflectances.max())
        for side in (greys.left, ~greys.left)
    ]
    return float(np.sort(np.abs(np.concatenate(misses)))[-2])


def wing_ratio(greys: Greys) -> float:
    """Return how much brighter the white of one wing is than that of the other."""
    top = greys.reflectances == greys.reflectances.max()
    left, right = (greys.values[top & side, 1].mean() for side in (greys.left, ~greys.left))
    return float(max(left, right) / max(min(left, right), 1e-6))


def veil_share(greys: Greys) -> float:
    """Return the light of dry black over dry white before the tone curve, print taken off."""
    green = greys.values[:, 1]
    black = np.median(green[greys.reflectances == greys.reflectances.min()])
    white = np.median(green[greys.reflectances == greys.reflectances.max()])
    return float(black / white - INK_SHARE)


def black_shift(greys: Greys) -> float:
    """Return how much lighter wide black is than black between white, in logarithms.

    Cameras that map tones by their surroundings lift what lies in wide black.
    """
    wide = float(np.median(greys.values[greys.wide, 1]))
    return float(np.log(max(wide, LEAST_BLACK) / max(greys.narrow_black, LEAST_BLACK)))
