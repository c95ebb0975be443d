"""What a camera is worth in its own light, from photos of the sheet that should agree."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import SheetError
from greasecheck.measure.colorimetry import delta_e00, yellowness_e313
from greasecheck.measure.colour.model import fit_colour
from greasecheck.measure.colour.patches import is_bone_tone, is_neutral, read_sheet_colours
from greasecheck.measure.photo.load import load_photo

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.measure.colour.patches import SheetColours
    from greasecheck.measure.reading import ReadSettings
    from greasecheck.model import FloatArray, PatchValues

FEWEST_PHOTOS = 3
# Patches darker than this [Y] are left out: their yellowness and level are mostly noise.
LEAST_Y = 8.0
# Patches' luminance scatters around one tone curve by 0.01 to 0.025 in renders of a camera with one
# curve, by 0.04 to 0.08 in photos of a phone that maps tones by their surroundings.
LOCAL_TONES = 0.03
POOR_DELTA_E00 = 3.0  # beyond the phone that the README's table is of
EXPOSURE_APART = 0.1  # of the paper's level between photos, relative
UNEVEN_PAPER = 0.05  # as for the check of shadows


class CameraAdvice(StrEnum):
    """What to change about the camera or the light."""

    LOCK_EXPOSURE = "lock_exposure"
    NO_HDR = "no_hdr"
    RAW = "raw"
    LIGHT = "light"
    MEASURED_VALUES = "measured_values"


@dataclass(frozen=True, slots=True, kw_only=True)
class CameraCheck:
    """What photos of the sheet in one light say about the camera.

    Attributes
    ----------
    photos : int
        How many.
    repeat_yi : float
        Standard deviation between the photos of the yellowness index of greys and bone tones, root
        mean square.
    repeat_delta_e00 : float
        Median CIEDE2000 of a patch from its mean over the photos.
    left_out_delta_e00 : float
        Mean CIEDE2000 of patches predicted by a fit that left them out.
    bone_yi_std : float
        Standard error stated for the yellowness of a typical bone.
    luminance_scatter : float
        Scatter of the patches' luminance around one tone curve, relative, root mean square.
    exposure_ratio : float
        Largest level of the bare paper over the smallest.
    light_misfit : float
        Largest departure of bare paper from a smooth light.
    absolute : bool
        Whether measured patch values were used.
    """

    photos: int
    repeat_yi: float
    repeat_delta_e00: float
    left_out_delta_e00: float
    bone_yi_std: float
    luminance_scatter: float
    exposure_ratio: float
    light_misfit: float
    absolute: bool

    @property
    def maps_tones_locally(self) -> bool:
        """Whether tones depend on their surroundings or colour, not on their own value alone."""
        return self.absolute and self.luminance_scatter > LOCAL_TONES

    @property
    def advice(self) -> tuple[CameraAdvice, ...]:
        """Return what to change, the most useful first."""
        wanted = {
            CameraAdvice.MEASURED_VALUES: not self.absolute,
            CameraAdvice.LOCK_EXPOSURE: self.exposure_ratio > 1 + EXPOSURE_APART,
            CameraAdvice.NO_HDR: self.maps_tones_locally,
            CameraAdvice.LIGHT: self.light_misfit > UNEVEN_PAPER,
            CameraAdvice.RAW: self.absolute and self.left_out_delta_e00 > POOR_DELTA_E00,
        }
        return tuple(advice for advice, needed in wanted.items() if needed)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Look:
    """One photo: its fit, the patches' colours as found and as stated, which of them count."""

    model: ColourModel
    seen: SheetColours
    found: FloatArray

    @property
    def luminance_scatter(self) -> float:
        """Relative scatter of the patches' luminance."""
        lit = self.seen.usable & self.seen.known & (self.seen.xyz[:, 1] > LEAST_Y)
        departure = np.log(self.found[lit, 1] / self.seen.xyz[lit, 1])
        return float(np.sqrt(np.mean(departure**2)))


def check_camera(paths: Sequence[Path], settings: ReadSettings) -> CameraCheck:
    """Compare photos of the sheet, taken one after the other in the same light.

    Parameters
    ----------
    paths : sequence of pathlib.Path
        At least three photos.
    settings : ReadSettings
        Patch values, designs of sheet and lens.

    Raises
    ------
    GreasecheckError
        When a photo cannot be used, they are too few, or show different sheets.
    """
    if len(set(paths)) < FEWEST_PHOTOS:
        raise SheetError(
            f"{len(set(paths))} photos are too few to say how far they repeat",
            hint=f"photograph the sheet {FEWEST_PHOTOS} times in the same light",
        )
    values, looks = zip(*(_look(path, settings) for path in paths), strict=True)
    if len({look.seen.names for look in looks}) > 1:
        raise SheetError(
            "the photos show different designs of sheet", hint="photograph one sheet only"
        )
    return _summary(looks, absolute=values[0].measured)


def _look(path: Path, settings: ReadSettings) -> tuple[PatchValues, _Look]:
    photo = load_photo(path, settings.default_zone)
    placement = settings.place_of(photo)
    values = settings.values_of(placement.geometry)
    model = fit_colour(photo, placement, values)
    seen = read_sheet_colours(photo, placement, values)
    found = model.to_xyz(model.even(seen.linear, seen.points_mm))
    return values, _Look(model=model, seen=seen, found=found)


def _summary(looks: Sequence[_Look], *, absolute: bool) -> CameraCheck:
    seen = looks[0].seen
    lit = np.all([look.seen.usable for look in looks], axis=0)
    lit &= ~seen.paper & (seen.xyz[:, 1] > LEAST_Y)
    pale = lit & (is_neutral(seen.xyz) | is_bone_tone(seen.xyz))
    found = np.stack([look.found for look in looks])
    whites = [float(look.model.white[1]) for look in looks]
    return CameraCheck(
        photos=len(looks),
        repeat_yi=_rms(np.std(yellowness_e313(found[:, pale]), axis=0, ddof=1)),
        repeat_delta_e00=_apart(found[:, lit]),
        left_out_delta_e00=_mean(look.model.fit.loo_delta_e00 for look in looks),
        bone_yi_std=_mean(look.model.bone_yi_std for look in looks),
        luminance_scatter=_mean(look.luminance_scatter for look in looks),
        exposure_ratio=max(whites) / min(whites),
        light_misfit=max(look.model.misfit.level for look in looks),
        absolute=absolute,
    )


def _apart(found: FloatArray) -> float:
    """Median CIEDE2000 of colours, shape (photos, n, 3), from their mean over the photos."""
    mean = np.broadcast_to(found.mean(axis=0), found.shape)
    return float(np.median(delta_e00(found, mean)))


def _rms(values: FloatArray) -> float:
    return float(np.sqrt(np.mean(values**2)))


def _mean(values: Iterable[float]) -> float:
    return float(np.mean(list(values)))
