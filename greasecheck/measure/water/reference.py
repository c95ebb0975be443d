"""The clear-water reference: what the jar itself does to the bars."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import WaterError
from greasecheck.measure.sight.bars import Alignment
from greasecheck.measure.sight.stand_light import lamp_elevation_deg
from greasecheck.measure.sight.view import BarLevels, Expected, rgb_tuple
from greasecheck.model.fingerprints import is_copy

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.measure.sight.shade import WaterShade
    from greasecheck.measure.sight.veil_edge import VeilDown
    from greasecheck.measure.sight.view import FieldPair, SightView
    from greasecheck.measure.water.surroundings import Surroundings
    from greasecheck.model import FloatArray
    from greasecheck.model.bone import GroundLight

# A clear jar reflects 4 % at each outer face, and sends its own light or shade onto the bars: from
# 0.6 at the top to 1.1 at the bottom in path-traced stands.
UNKNOWN_RATIO = 0.85
UNKNOWN_RATIO_STD = 0.2
BANDS = 7  # of 3 mm each, over the height of the bars
MOST_DISAGREEMENT = 0.03  # of one photo's ratio with the mean, relative


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldReference:
    """Wet over dry contrast of one field in clear water.

    The jar guides light in ways of its own, so the ratio differs from the top to the bottom.

    Attributes
    ----------
    ratio : tuple of tuple of float
        For each horizontal band from the top, the ratio for R, G, B.
    relative_std : tuple of float
        Relative standard error of the mean ratio for R, G, B.
    alignment : Alignment
        Where the bars appear through clear water.
    stretch : float
        Their magnification, more exactly.
    levels : BarLevels or None
        Light on the bars; None for a stand-in.
    veil : tuple of float
        Light that jar and clear water add to black and white alike, for R, G, B.
    """

    ratio: tuple[tuple[float, float, float], ...]
    relative_std: tuple[float, float, float]
    alignment: Alignment
    stretch: float
    levels: BarLevels | None
    veil: tuple[float, float, float] = (0.0, 0.0, 0.0)

    @property
    def mean_ratio(self) -> tuple[float, float, float]:
        """Return the mean ratio of the bands for R, G, B."""
        return rgb_tuple(np.mean(self.ratio, axis=0))

    @property
    def expected(self) -> Expected:
        """Return what the field looks like through clear water."""
        return Expected(alignment=self.alignment, profile=np.array(self.ratio))


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearWater:
    """The jar filled with clear tap water on its stand.

    Attributes
    ----------
    fine, coarse : FieldReference
        The two fields of bars.
    path_mm : float
        Inner depth of the jar along the line of sight [mm].
    sheet_version : int
        Version of the sheet it was made with.
    taken_at : datetime.datetime
        Time of the newest photo it was made from.
    camera : str
        Make and model of the camera.
    photos : int
        How many photos were averaged.
    surroundings : Surroundings or None
        Distance and light of the newest photo; None for a stand-in.
    glass_modulation : float or None
        Modulation of bars behind the jar's glass alone, as in `GlassView`; None on sheets without.
    shade : WaterShade or None
        How the stand's light falls through the water; None on sheets that do not show it.
    rest : GroundLight or None
        Light on the rest's dark ground in the newest photo.
    veil_down : VeilDown or None
        Light added to the bars in the newest photo; None on sheets that do not show it.
    """

    fine: FieldReference
    coarse: FieldReference
    path_mm: float
    sheet_version: int
    taken_at: datetime
    camera: str
    photos: int
    surroundings: Surroundings | None
    glass_modulation: float | None = None
    shade: WaterShade | None = None
    rest: GroundLight | None = None
    veil_down: VeilDown | None = None

    @property
    def lamp_elevation_deg(self) -> float | None:
        """Return the lamp's height over the horizon [degrees]; None where no shadow shows it."""
        if self.shade is None or self.shade.reach_mm is None:
            return None
        return lamp_elevation_deg(self.shade.reach_mm, self.path_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearPhoto:
    """One photo of the jar with clear water, as measured.

    `doubts` are in words, with what to check; `doubted_path_mm` is the jar's depth by the bars
    where that is not the stated one; `fingerprint` tells a copy of the photo from another one.
    """

    sight: SightView
    sheet_version: int
    taken_at: datetime
    camera: str
    name: str
    surroundings: Surroundings
    rest: GroundLight | None = None
    doubts: tuple[str, ...] = ()
    doubted_path_mm: float | None = None
    fingerprint: str = ""


def make_clear_water(photos: Sequence[ClearPhoto], path_mm: float) -> ClearWater:
    """Average one or several photos of clear water into a reference.

    Parameters
    ----------
    photos : sequence of ClearPhoto
        At least one; the same picture saved again counts once.
    path_mm : float
        Inner depth of the jar along the line of sight [mm].

    Raises
    ------
    WaterError
        When the photos disagree, are of different cameras or sheets, or show no water.
    """
    if not photos:
        raise WaterError(
            "no photo for the clear-water reference",
            hint="photograph the jar filled with clean tap water before the sheet",
        )
    if len({(one.sheet_version, one.camera) for one in photos}) > 1:
        raise WaterError(
            "the clear-water photos come from different cameras or sheets",
            hint="make one reference for each camera and sheet",
        )
    photos = _without_copies(photos)
    newest = max(photos, key=lambda one: one.taken_at)
    return ClearWater(
        fine=_average([(one.name, one.sight.fine) for one in photos]),
        coarse=_average([(one.name, one.sight.coarse) for one in photos]),
        path_mm=path_mm,
        sheet_version=newest.sheet_version,
        taken_at=newest.taken_at,
        camera=newest.camera,
        photos=len(photos),
        surroundings=newest.surroundings,
        glass_modulation=_mean_glass(photos),
        shade=newest.sight.shade,
        rest=newest.rest,
        veil_down=newest.sight.veil_down,
    )


def _without_copies(photos: Sequence[ClearPhoto]) -> list[ClearPhoto]:
    kept: list[ClearPhoto] = []
    for photo in photos:
        if not any(is_copy(photo.fingerprint, other.fingerprint) for other in kept):
            kept.append(photo)
    return kept


def _mean_glass(photos: Sequence[ClearPhoto]) -> float | None:
    seen = [one.sight.glass.modulation for one in photos if one.sight.glass is not None]
    return float(np.mean(seen)) if seen else None


def _average(pairs: list[tuple[str, FieldPair]]) -> FieldReference:
    profiles = np.array([pair.profile for _, pair in pairs])
    mean = profiles.mean(axis=0)
    levels = (profiles / mean).mean(axis=1)
    for (name, _), level in zip(pairs, levels, strict=True):
        if np.abs(level - 1).max() > MOST_DISAGREEMENT:
            raise WaterError(
                f"the clear-water photo {name} differs from the others by more than "
                f"{MOST_DISAGREEMENT:.0%}",
                hint="clean the jar, keep shadows off it, and photograph clear water again",
            )
    noise = np.sqrt(np.mean([_relative_noise(pair) ** 2 for _, pair in pairs], axis=0))
    scatter = levels.std(axis=0, ddof=1) if len(pairs) > 1 else np.zeros(3)
    return FieldReference(
        ratio=tuple(rgb_tuple(band) for band in mean),
        relative_std=rgb_tuple(np.maximum(noise, scatter) / np.sqrt(len(pairs))),
        alignment=_mean_alignment([pair for _, pair in pairs]),
        stretch=float(np.mean([pair.stretch.value for _, pair in pairs])),
        levels=_mean_levels([pair.levels for _, pair in pairs]),
        veil=rgb_tuple(np.mean([pair.veil for _, pair in pairs], axis=0)),
    )


def _relative_noise(pair: FieldPair) -> FloatArray:
    """Relative standard error of a field's ratio from the scatter within its bands."""
    return np.asarray(np.sqrt(2) * pair.dry.std / pair.dry.contrast)


def _mean_alignment(pairs: list[FieldPair]) -> Alignment:
    return Alignment(
        shift_mm=float(np.mean([pair.wet.alignment.shift_mm for pair in pairs])),
        stretch=float(np.mean([pair.wet.alignment.stretch for pair in pairs])),
    )


def _mean_levels(levels: list[BarLevels]) -> BarLevels:
    across, down = np.mean([one.dry_lean for one in levels], axis=0).tolist()
    wet = [one.wet_lean for one in levels if one.wet_lean is not None]
    return BarLevels(
        white_kept=rgb_tuple(np.mean([one.white_kept for one in levels], axis=0)),
        dry_white=rgb_tuple(np.mean([one.dry_white for one in levels], axis=0)),
        dry_black=rgb_tuple(np.mean([one.dry_black for one in levels], axis=0)),
        dry_lean=(across, down),
        wet_lean=float(np.mean(wet)) if wet else None,
    )


def unknown_jar(path_mm: float, sheet_version: int) -> ClearWater:
    """Return a stand-in for a jar without a clear-water reference, with its wide uncertainty."""
    field = FieldReference(
        ratio=((UNKNOWN_RATIO,) * 3,) * BANDS,
        relative_std=(UNKNOWN_RATIO_STD / UNKNOWN_RATIO,) * 3,
        alignment=Alignment(shift_mm=0.0, stretch=1.02),
        stretch=1.02,
        levels=None,
    )
    return ClearWater(
        fine=field,
        coarse=field,
        path_mm=path_mm,
        sheet_version=sheet_version,
        taken_at=datetime.fromtimestamp(0, tz=UTC),
        camera="unknown",
        photos=0,
        surroundings=None,
    )
