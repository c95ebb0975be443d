"""Reads all ladders of a photo."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.measure.checks.verdict import refusal, requirement
from greasecheck.measure.colorimetry import yellowness_e313
from greasecheck.measure.ladder import limits
from greasecheck.measure.ladder.find import find_ladders, place_camera
from greasecheck.measure.ladder.haze import DRAWS, Colours, estimate_haze, fit_drawn
from greasecheck.measure.ladder.light import open_picture
from greasecheck.measure.ladder.profile import SHARP_EDGE_PX, sample_ladder
from greasecheck.measure.ladder.signs.checks import all_signs
from greasecheck.measure.ladder.slopes import fit_loss
from greasecheck.measure.ladder.waterline import find_waterline
from greasecheck.measure.sheet.markers import grey_copy_of
from greasecheck.measure.sheet.pose import box_corners
from greasecheck.measure.sight.view import MAIN_CHANNEL
from greasecheck.model import Box, LadderReading, WaterReading
from greasecheck.reference.ladder.plate import dip_ladder
from greasecheck.reference.ladder.slopes import colour_signs
from greasecheck.reference.srgb import XYZ_FROM_LINEAR

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.measure.ladder.find import SeenLadder
    from greasecheck.measure.ladder.haze import HazeEstimate
    from greasecheck.measure.ladder.profile import Sampled
    from greasecheck.measure.ladder.refraction import Eye
    from greasecheck.measure.ladder.waterline import Waterline
    from greasecheck.measure.turbidity import TurbidityScale
    from greasecheck.model import Check, FloatArray, Lens, Photo

TINT_BINS = 4  # the upper 10 mm of the white stripes
RED_BLUE = (0, 2)
BRIGHT_SEED = 1  # of the noise of brightness: that of green, of which it mostly consists
LEVEL_FLOOR_MM = 0.5  # by unknown lens and pose; seen in rendered photos of three cameras


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderView:
    """One ladder as read.

    Attributes
    ----------
    tub : int or None
        The tub of its tag.
    water : WaterReading or None
        The water; None where it could not be read.
    ladder : LadderReading or None
        Level and decay.
    checks : tuple of Check
        Its checks.
    outline_px : ndarray, shape (4, 2)
        The corners of the plate above the water [px].
    waterline_px : ndarray, shape (2, 2), or None
        Ends of the waterline across the body [px].
    is_whole : bool
        Whether enough of the plate is seen to locate all of it.
    """

    tub: int | None
    water: WaterReading | None
    ladder: LadderReading | None
    checks: tuple[Check, ...]
    outline_px: FloatArray
    waterline_px: FloatArray | None = None
    is_whole: bool = True


def read_ladders(photo: Photo, lens: Lens | None, scale: TurbidityScale) -> tuple[LadderView, ...]:
    """Read each ladder of a photo by itself; none when there is no ladder.

    Parameters
    ----------
    photo : Photo
        The photo.
    lens : Lens or None
        The calibrated lens of a fixed camera; its camera matrix is used.
    scale : TurbidityScale
        From attenuation to turbidity.
    """
    grey = grey_copy_of(photo)
    found = find_ladders(photo, grey)
    if not found:
        return ()
    whole = [one for one in found if one.is_whole]
    eyes = place_camera(whole, (grey.shape[1], grey.shape[0]), lens) if whole else ()
    read = {id(one): _read(photo, one, eye, scale) for one, eye in zip(whole, eyes, strict=True)}
    return tuple(read.get(id(one)) or _half_hidden(one) for one in found)


def _half_hidden(seen: SeenLadder) -> LadderView:
    return LadderView(
        tub=seen.tub,
        water=None,
        ladder=None,
        checks=(limits.MARKERS.check(float(len(seen.markers))),),
        outline_px=_around(seen),
        is_whole=False,
    )


def _around(seen: SeenLadder) -> FloatArray:
    whole = Box(x_mm=0, y_mm=0, width_mm=dip_ladder().width_mm, height_mm=dip_ladder().height_mm)
    corners = cv2.perspectiveTransform(box_corners(whole)[np.newaxis], seen.homography)[0]
    return np.asarray(corners, dtype=np.float64)


def _read(photo: Photo, seen: SeenLadder, eye: Eye, scale: TurbidityScale) -> LadderView:
    around = _around(seen)
    picture, greys = open_picture(photo, eye, around)
    waterline = find_waterline(picture, eye)
    if waterline is None:
        lost = refusal("waterline_seen")
        return LadderView(tub=seen.tub, water=None, ladder=None, checks=(lost,), outline_px=around)
    sampled = sample_ladder(picture, eye, waterline.surface, SHARP_EDGE_PX)
    if sampled.inside.sum() < TINT_BINS:
        cut = refusal("stripes_in_picture")
        return LadderView(tub=seen.tub, water=None, ladder=None, checks=(cut,), outline_px=around)
    channels = hazes_in(sampled)
    water = _water(channels, sampled, scale)
    main = channels[MAIN_CHANNEL]
    ladder = _ladder(main, sampled, waterline)
    ends = sample_ladder(picture, eye, waterline.surface)
    signs = all_signs(picture, greys, eye, waterline, ends, main)
    checks = (
        limits.MARKERS.check(float(len(seen.markers))),
        limits.MARKER_FIT.check(eye.residual_px),
        *signs,
        requirement("haze_seen", water is not None, hard=True),
    )
    return LadderView(
        tub=seen.tub,
        water=water,
        ladder=ladder,
        checks=checks,
        outline_px=around,
        waterline_px=_waterline_px(eye, waterline),
    )


def hazes_in(sampled: Sampled) -> tuple[HazeEstimate, ...]:
    """Estimate the haze in R, G and B of what was sampled."""
    red, blue = (fit_drawn(sampled.colour(channel), channel) for channel in RED_BLUE)
    bright_loss = fit_loss(sampled.brightness(), DRAWS, BRIGHT_SEED)
    signs = colour_signs(red, blue)
    return tuple(
        estimate_haze(
            sampled.colour(channel),
            sampled.view_cos,
            Colours(
                channel=channel,
                stripe_px=sampled.stripe_px,
                bright_loss=bright_loss,
                signs=signs,
            ),
        )
        for channel in range(3)
    )


def _ladder(haze: HazeEstimate, sampled: Sampled, waterline: Waterline) -> LadderReading | None:
    if not np.isfinite(haze.decay_per_m + haze.decay_std_per_m + sampled.view_cos):
        return None
    return LadderReading(
        decay_per_m=haze.decay_per_m,
        decay_std_per_m=haze.decay_std_per_m,
        level_mm=dip_ladder().lower_end_mm - waterline.surface.level_mm,
        level_std_mm=float(np.hypot(waterline.level_std_mm, LEVEL_FLOOR_MM)),
        view_deg=float(np.degrees(np.arccos(sampled.view_cos))),
    )


def _water(
    channels: Sequence[HazeEstimate], sampled: Sampled, scale: TurbidityScale
) -> WaterReading | None:
    main = channels[MAIN_CHANNEL]
    if not np.isfinite([main.haze_per_m, main.std_per_m, sampled.view_cos]).all():
        return None
    known = main.bound is None
    turbidity = scale.turbidity(main.haze_per_m, main.std_per_m) if known else None
    red, green, blue = (
        one.haze_per_m if one.bound is None and np.isfinite(one.haze_per_m) else None
        for one in channels
    )
    return WaterReading(
        attenuation_rgb_per_m=(red, green, blue),
        main_per_m=main.haze_per_m,
        std_per_m=main.std_per_m,
        bound=main.bound,
        forward_scatter=None,
        tint_yi=_tint(sampled),
        path_mm=float(sampled.sight.path_mm[sampled.inside].max()),
        dilution=1.0,
        turbidity=turbidity.value if turbidity else None,
        turbidity_std=turbidity.std if turbidity else None,
        turbidity_unit=scale.unit,
    )


def _tint(sampled: Sampled) -> float:
    """Return the yellowness of the upper white stripes against dry white, as seen under D65."""
    light = np.median(sampled.coarse.tint[sampled.inside][:TINT_BINS], axis=0)
    xyz = XYZ_FROM_LINEAR @ np.maximum(light, 1e-4)
    return float(yellowness_e313(xyz[np.newaxis])[0])


def _waterline_px(eye: Eye, waterline: Waterline) -> FloatArray:
    body, level = dip_ladder().body, waterline.surface.level_mm
    ends = np.array([[body.x_mm, level, 0.0], [body.x_mm + body.width_mm, level, 0.0]])
    return eye.project(ends)
