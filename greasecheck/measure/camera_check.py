"""How well a camera repeats in its own light, from photos of the sheet that should agree."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import SheetError
from greasecheck.measure.colorimetry import delta_e00, yellowness_e313
from greasecheck.measure.colour.model import fit_colour
from greasecheck.measure.colour.patches import is_bone_tone, is_neutral, read_sheet_colours
from greasecheck.measure.photo.load import load_photo
from greasecheck.model.camera_check import CameraCheck

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
