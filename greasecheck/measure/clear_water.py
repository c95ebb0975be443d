"""The clear-water reference: what the jar itself does to the bars."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from greasecheck.errors import DataFileError, WaterError
from greasecheck.measure.sight import Alignment
from greasecheck.measure.sight_view import BarLevels, Expected, rgb_tuple
from greasecheck.measure.surroundings import Surroundings

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.measure.sight_view import FieldPair, SightView
    from greasecheck.model import FloatArray

SCHEMA = 1
KIND = "clear water"
# A clear jar reflects 4 % at each outer face, and sends its own light or shade onto the bars: from
# 0.6 at the top to 1.1 at the bottom in path-traced stands.
UNKNOWN_RATIO = 0.85
UNKNOWN_RATIO_STD = 0.2
BANDS = 7
MOST_DISAGREEMENT = 0.03
LEVELS = ("white_kept", "dry_white", "dry_black")


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
    """

    ratio: tuple[tuple[float, float, float], ...]
    relative_std: tuple[float, float, float]
    alignment: Alignment
    stretch: float
    levels: BarLevels | None

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
    """

    fine: FieldReference
    coarse: FieldReference
    path_mm: float
    sheet_version: int
    taken_at: datetime
    camera: str
    photos: int
    surroundings: Surroundings | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearPhoto:
    """One photo of the jar with clear water, as measured."""

    sight: SightView
    sheet_version: int
    taken_at: datetime
    camera: str
    name: str
    surroundings: Surroundings


def make_clear_water(photos: Sequence[ClearPhoto], path_mm: float) -> ClearWater:
    """Average one or several photos of clear water into a reference.

    Parameters
    ----------
    photos : sequence of ClearPhoto
        At least one.
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
    )


def _average(pairs: list[tuple[str, FieldPair]]) -> FieldReference:
    profiles = np.array([pair.profile for _, pair in pairs])
    mean = profiles.mean(axis=0)
    levels = (profiles / mean).mean(axis=1)
    for (name, _), level in zip(pairs, levels, strict=True):
        if np.abs(level - 1).max() > MOST_DISAGREEMENT:
            raise WaterError(
                f"the clear-water photo {name} differs from the others by more than "
                f"{MOST_DISAGREEMENT:.0%}",
                hint="leave it out, or clean the jar and photograph clear water again",
            )
    noise = np.sqrt(np.mean([_relative_noise(pair) ** 2 for _, pair in pairs], axis=0))
    scatter = levels.std(axis=0, ddof=1) if len(pairs) > 1 else np.zeros(3)
    return FieldReference(
        ratio=tuple(rgb_tuple(band) for band in mean),
        relative_std=rgb_tuple(np.maximum(noise, scatter) / np.sqrt(len(pairs))),
        alignment=_mean_alignment([pair for _, pair in pairs]),
        stretch=float(np.mean([pair.stretch.value for _, pair in pairs])),
        levels=_mean_levels([pair.levels for _, pair in pairs]),
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
    return BarLevels(
        white_kept=rgb_tuple(np.mean([one.white_kept for one in levels], axis=0)),
        dry_white=rgb_tuple(np.mean([one.dry_white for one in levels], axis=0)),
        dry_black=rgb_tuple(np.mean([one.dry_black for one in levels], axis=0)),
        dry_lean=(across, down),
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


def to_json(clear: ClearWater) -> str:
    """Write a reference as the text of a JSON file, readable by `from_json`."""
    body = {
        "schema": SCHEMA,
        "kind": KIND,
        "path_mm": clear.path_mm,
        "sheet_version": clear.sheet_version,
        "taken_at": clear.taken_at.isoformat(),
        "camera": clear.camera,
        "photos": clear.photos,
        "surroundings": clear.surroundings and asdict(clear.surroundings),
        "fine": asdict(clear.fine),
        "coarse": asdict(clear.coarse),
    }
    return json.dumps(body, indent=2, allow_nan=False) + "\n"


def from_json(text: str, name: str) -> ClearWater:
    """Read a reference from the text of a JSON file.

    Parameters
    ----------
    text : str
        What `to_json` wrote.
    name : str
        Name of the file, for error messages.

    Raises
    ------
    DataFileError
        When the text is no clear-water reference of a known schema.
    """
    hint = "make it again with 'greasecheck clear'"
    try:
        body = json.loads(text)
        if body["kind"] != KIND or body["schema"] != SCHEMA:
            raise DataFileError(
                f"{name} is not a clear-water reference of schema {SCHEMA}", hint=hint
            )
        return _from_body(body)
    except (ArithmeticError, KeyError, RecursionError, TypeError, ValueError) as error:
        raise DataFileError(f"{name} is no clear-water reference: {error!r}", hint=hint) from error


def _from_body(body: dict[str, Any]) -> ClearWater:
    path_mm, taken_at = float(body["path_mm"]), datetime.fromisoformat(body["taken_at"])
    if not 0 < path_mm < np.inf or taken_at.tzinfo is None:
        raise ValueError("its jar must have a depth and its time a zone")
    return ClearWater(
        fine=_field(body["fine"]),
        coarse=_field(body["coarse"]),
        path_mm=path_mm,
        sheet_version=int(body["sheet_version"]),
        taken_at=taken_at,
        camera=str(body["camera"]),
        photos=int(body["photos"]),
        surroundings=_surroundings(body["surroundings"]) if body.get("surroundings") else None,
    )


def _surroundings(body: dict[str, Any]) -> Surroundings:
    numbers = {name: _finite(body[name]) for name in ("span_mm", "light_ratio", "loo_delta_e00")}
    if not numbers["span_mm"] > 0:
        raise ValueError("its picture must span more than 0 mm")
    paper = tuple(None if one is None else _finite(one) for one in body["paper"])
    return Surroundings(**numbers, paper=paper)


def _field(body: dict[str, Any]) -> FieldReference:
    ratio, std = (np.array(body[name], dtype=float) for name in ("ratio", "relative_std"))
    shift_mm, stretch = (float(body["alignment"][name]) for name in ("shift_mm", "stretch"))
    finite = all(np.isfinite(part).all() for part in (ratio, std, shift_mm, stretch))
    possible = finite and ratio.min() > 0 <= std.min() and stretch > 0
    if ratio.shape != (BANDS, 3) or std.shape != (3,) or not possible:
        raise ValueError(f"its ratios must be {BANDS} times 3 finite numbers above 0")
    return FieldReference(
        ratio=tuple(rgb_tuple(band) for band in ratio),
        relative_std=rgb_tuple(std),
        alignment=Alignment(shift_mm=shift_mm, stretch=stretch),
        stretch=_finite(body.get("stretch", stretch)),
        levels=_levels(body["levels"]) if body.get("levels") else None,
    )


def _levels(body: dict[str, Any]) -> BarLevels:
    light = {name: np.array(body[name], dtype=float) for name in LEVELS}
    if any(
        one.shape != (3,) or not (0 < one.min() <= one.max() < np.inf) for one in light.values()
    ):
        raise ValueError("the light on its bars must be given by 3 finite numbers above 0 each")
    across, down = (_finite(share) for share in body["dry_lean"])
    return BarLevels(
        **{name: rgb_tuple(one) for name, one in light.items()}, dry_lean=(across, down)
    )


def _finite(value: Any) -> float:  # noqa: ANN401 - whatever JSON holds
    number = float(value)
    if not np.isfinite(number):
        raise ValueError(f"{number} is not finite")
    return number
