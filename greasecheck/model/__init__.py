"""The words the parts speak to each other in: frozen records with units in their names."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from greasecheck.model.bone import (
    BonePiece,
    BoneReading,
    BoneState,
    Drawn,
    LeftOut,
    LeftOutReason,
    Stroke,
)
from greasecheck.model.chart import (
    Box,
    ContrastLadder,
    JarPlace,
    LadderCell,
    Marker,
    Note,
    PatchValues,
    RestPlace,
    Ruler,
    SheetGeometry,
    Sight,
    TagPlace,
)

if TYPE_CHECKING:
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]
    BoolArray = NDArray[np.bool_]


__all__ = [
    "BodyCondition",
    "BonePiece",
    "BoneReading",
    "BoneState",
    "Box",
    "ContrastLadder",
    "Drawn",
    "JarPlace",
    "LadderCell",
    "LeftOut",
    "LeftOutReason",
    "Marker",
    "Note",
    "PatchValues",
    "RestPlace",
    "Ruler",
    "SheetGeometry",
    "Sight",
    "Stroke",
    "TagPlace",
]


class Verdict(StrEnum):
    """How far a reading can be trusted."""

    GOOD = "good"
    DOUBTFUL = "doubtful"
    REFUSED = "refused"


class Bound(StrEnum):
    """The side on which the true value lies when a reading is only a bound."""

    ABOVE = "above"
    BELOW = "below"


class ReadingKind(StrEnum):
    """What was looked at: the jar before the sheet, a ladder in a tub (by eye), or bone alone."""

    JAR = "jar"
    LADDER = "ladder"
    BONE = "bone"
    EYE = "eye"


class TagOwner(StrEnum):
    """What a printed tag stands for."""

    TUB = "tub"
    SKULL = "skull"


class Absent(StrEnum):
    """What a photo of the sheet does not show; no fault by itself, but never passed over."""

    JAR = "jar"
    BONE = "bone"
    REST = "rest"
    DARK_REST = "dark_rest"
    BONE_COLOUR = "bone_colour"
    BONE_BESIDE = "bone_beside"


class Recipe(StrEnum):
    """What a bath is made of."""

    SOAP = "soap"
    SOAP_AMMONIA = "soap+ammonia"
    AMMONIA = "ammonia"
    ACETONE = "acetone"
    WATER = "water"
    OWN = "own"


class BodyCondition(StrEnum):
    """How fat an animal was."""

    UNKNOWN = "unknown"
    LEAN = "lean"
    FAT = "fat"


class TimeSource(StrEnum):
    """Where a photo's time came from, best first."""

    EXIF = "exif"
    EXIF_DEFAULT_ZONE = "exif, default zone"
    HAND = "by hand"
    FILE = "file"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tag:
    """A printed tag: the number of a tub, or that given to a skull."""

    number: int
    owner: TagOwner = TagOwner.TUB


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One quality check of a photo: what was found against what is allowed.

    Attributes
    ----------
    name : str
        What was checked, in snake_case with its unit where it has one.
    value : float or None
        What was found; None when it could not be found.
    limit : float
        The allowed limit.
    passed : bool
        Whether the value keeps the limit.
    hard : bool
        A failed hard check refuses the photo; a failed soft one makes it doubtful.
    note : str
        What the words of a failed check need beside its name: one of its cases, the name of a
        camera, or the words of the error that ended a step.
    """

    name: str
    value: float | None
    limit: float
    passed: bool
    hard: bool
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """A decoded photograph.

    Attributes
    ----------
    path : pathlib.Path
        The file it came from.
    sha256 : str
        Digest of the file's bytes, hexadecimal.
    pixels : ndarray, shape (height, width, 3), uint8 or uint16
        Device values in RGB order, upright (EXIF orientation applied).
    taken_at : datetime.datetime
        Zone-aware time of exposure.
    time_source : TimeSource
        Where `taken_at` came from.
    camera : str
        Make and model from EXIF, or "unknown".
    transfer : ndarray, shape (k, 3), float32
        Linear light, 0 to 1, of k evenly spaced device values from 0 to full scale for R, G, B:
        the embedded profile's tone curves, or those of sRGB (IEC 61966-2-1).
    reduced_by : int
        By how much the file's width and height were divided in decoding.
    focal_35mm : float or None
        Focal length [mm] of a 35 mm camera of the same view, from EXIF.
    """

    path: Path
    sha256: str
    pixels: NDArray[np.uint8] | NDArray[np.uint16]
    taken_at: datetime
    time_source: TimeSource
    camera: str
    transfer: NDArray[np.float32]
    reduced_by: int = 1
    focal_35mm: float | None = None

    @property
    def full_scale(self) -> int:
        """Return the largest device value: 255 or 65535."""
        return 255 if self.pixels.dtype.itemsize == 1 else 65535


@dataclass(frozen=True, slots=True, kw_only=True)
class Lens:
    """The distortion of a fixed camera (Brown 1966, as in OpenCV's calib3d).

    Attributes
    ----------
    matrix : ndarray, shape (3, 3)
        Camera matrix [px].
    distortion : ndarray, shape (5,)
        k1, k2, p1, p2, k3.
    width_px, height_px : int
        Size of the photos it was estimated from [px].
    """

    matrix: FloatArray
    distortion: FloatArray
    width_px: int
    height_px: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """Where the sheet is in a photo.

    Attributes
    ----------
    homography : ndarray, shape (3, 3)
        Takes homogeneous sheet coordinates [mm] to pixels of an undistorted image.
    lens : Lens or None
        Distortion to apply after the homography; None for a lens taken as free of it.
    geometry : SheetGeometry
        The version of the sheet that was found.
    marker_ids : tuple of int
        The sheet markers that were seen.
    tag : Tag or None
        The tag in the slot.
    pixels_per_mm : float
        Mean scale over the sheet [px/mm].
    tilt_deg : float
        Angle between the camera's axis and the sheet's normal [degrees].
    residual_px : float
        Root-mean-square distance of the marker corners from the fitted pose [px].
    tag_scale : float or None
        Size of the tag's marker as seen, over its size as printed.
    """

    homography: FloatArray
    lens: Lens | None
    geometry: SheetGeometry
    marker_ids: tuple[int, ...]
    tag: Tag | None
    pixels_per_mm: float
    tilt_deg: float
    residual_px: float
    tag_scale: float | None

    @property
    def tub(self) -> int | None:
        """Return the number of the tub whose tag is in the slot."""
        return self.tag.number if self.tag and self.tag.owner is TagOwner.TUB else None

    @property
    def skull_tag(self) -> int | None:
        """Return the number of the skull whose tag is in the slot."""
        return self.tag.number if self.tag and self.tag.owner is TagOwner.SKULL else None


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourFit:
    """How device values become CIE XYZ in one photo.

    Attributes
    ----------
    loo_delta_e00 : float
        Mean CIEDE2000 of the patches, each predicted by a fit that left it out.
    absolute : bool
        True when the patches were measured by the user, False when nominal (card-relative).
    order : int
        1 for a linear fit, 2 for root-polynomial terms of the second degree.
    clipped_share : float
        Share of sampled pixels at either end of the scale, 0 to 1.
    gradient_ratio : float
        Brightest over darkest illuminance on the sheet, at least 1.
    """

    loo_delta_e00: float
    absolute: bool
    order: int
    clipped_share: float
    gradient_ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterReading:
    """The bath water in the jar.

    Attributes
    ----------
    attenuation_rgb_per_m : tuple of float or None
        Beam attenuation [1/m] above that of clear water for R, G, B; None where the bars are lost.
    main_per_m : float
        The one value used for logs and forecasts [1/m]; the bound itself when `bound` is set.
    std_per_m : float
        Standard error of `main_per_m` [1/m].
    bound : Bound or None
        Set when the true value lies only above or below `main_per_m`.
    forward_scatter : float or None
        Attenuation from the coarse bars over that from the fine bars, 0 to 1.
    tint_yi : float
        Yellowness index (ASTM E313, D65/2) of white seen through the water.
    path_mm : float
        Path through the water [mm].
    dilution : float
        Bath volume over volume in the jar by dilution, at least 1; already applied.
    turbidity : float or None
        In `turbidity_unit`; None when only a bound is known.
    turbidity_std : float or None
        Standard error in `turbidity_unit`.
    turbidity_unit : str
        "FNU" by the user's own dilution series, otherwise "NTU (rough)".
    """

    attenuation_rgb_per_m: tuple[float | None, float | None, float | None]
    main_per_m: float
    std_per_m: float
    bound: Bound | None
    forward_scatter: float | None
    tint_yi: float
    path_mm: float
    dilution: float
    turbidity: float | None
    turbidity_std: float | None
    turbidity_unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderReading:
    """What a ladder in a tub tells beside the haze of its water.

    Attributes
    ----------
    decay_per_m : float
        Decay of the stripes' relative contrast along the sight line [1/m]; proportional to the
        haze by a factor that is the same for all readings of one kind of water in one tub.
    decay_std_per_m : float
        Standard error of `decay_per_m` [1/m].
    level_mm : float
        Height of the water's surface above the ladder's lower end [mm].
    level_std_mm : float
        Standard error of `level_mm` [mm].
    view_deg : float
        Angle between the line of sight and the upright, in air [degrees].
    """

    decay_per_m: float
    decay_std_per_m: float
    level_mm: float
    level_std_mm: float
    view_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What a photo says of one tub, with how far to trust it.

    `tub`, `water`, `ladder`, `bone` and `colour` are None when the photo does not show them.
    `part` distinguishes several readings of one photo, such as "ladder-12"; the reading of the
    sheet has none. `absent` names what the photo was searched for in vain, `skull_tag` the number
    of a skull's own tag, `drawn` what a person drew to correct what is bone. By its `fingerprint` a
    copy of the photo is known.
    """

    photo_path: str
    photo_sha256: str
    taken_at: datetime | None
    time_source: TimeSource | None
    tub: int | None
    verdict: Verdict
    checks: tuple[Check, ...]
    water: WaterReading | None
    bone: BoneReading | None
    colour: ColourFit | None
    sheet_version: int | None
    software_version: str
    kind: ReadingKind = ReadingKind.JAR
    part: str = ""
    ladder: LadderReading | None = None
    absent: tuple[Absent, ...] = ()
    fingerprint: str | None = None
    skull_tag: int | None = None
    drawn: tuple[Drawn, ...] = ()

    @property
    def key(self) -> str:
        """Return what names it in the logbook: its photo's digest, and its part after a colon."""
        return f"{self.photo_sha256}:{self.part}" if self.part else self.photo_sha256
