"""The words the parts speak to each other in: frozen records with units in their names."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from greasecheck.errors import DataFileError

if TYPE_CHECKING:
    from pathlib import Path
    from typing import TypeVar

    import numpy as np
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]
    BoolArray = NDArray[np.bool_]
    Part = TypeVar("Part")


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
    """What was looked at: the jar before the sheet, a ladder in a tub, or bone alone."""

    JAR = "jar"
    LADDER = "ladder"
    BONE = "bone"


class BoneState(StrEnum):
    """How wet the bone was when photographed; only like is compared with like."""

    WET = "wet"
    BLOTTED = "blotted"
    DRY = "dry"


class Recipe(StrEnum):
    """What a bath is made of."""

    SOAP = "soap"
    SOAP_AMMONIA = "soap+ammonia"
    AMMONIA = "ammonia"
    ACETONE = "acetone"
    WATER = "water"
    OWN = "own"


class TimeSource(StrEnum):
    """Where a photo's time came from, best first."""

    EXIF = "exif"
    EXIF_DEFAULT_ZONE = "exif, default zone"
    HAND = "by hand"
    FILE = "file"


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """An upright rectangle in sheet coordinates [mm]."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float

    @property
    def centre_mm(self) -> tuple[float, float]:
        """Return the centre (x, y) [mm]."""
        return self.x_mm + self.width_mm / 2, self.y_mm + self.height_mm / 2

    def inset(self, margin_mm: float) -> Box:
        """Return the box with `margin_mm` [mm] taken off each side."""
        return Box(
            x_mm=self.x_mm + margin_mm,
            y_mm=self.y_mm + margin_mm,
            width_mm=self.width_mm - 2 * margin_mm,
            height_mm=self.height_mm - 2 * margin_mm,
        )

    def moved(self, x_mm: float, y_mm: float) -> Box:
        """Return the box moved to the right and down [mm]."""
        return Box(
            x_mm=self.x_mm + x_mm,
            y_mm=self.y_mm + y_mm,
            width_mm=self.width_mm,
            height_mm=self.height_mm,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Marker:
    """A fiducial marker of the sheet: its id and its square."""

    id: int
    box: Box
    corner: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """The fields of upright bars, fine and coarse, wet (behind the jar) and dry.

    `glass` holds fine bars behind the jar above the fill line; None on sheets without them.
    """

    fine_bar_mm: float
    coarse_bar_mm: float
    wet_fine: Box
    wet_coarse: Box
    dry_fine: Box
    dry_coarse: Box
    glass: Box | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderCell:
    """A cell of the contrast ladder: fine and coarse bars of two greys, the lighter one around.

    The greys are the patch values NAME-light and NAME-dark.
    """

    name: str
    box: Box
    fine: Box
    coarse: Box


@dataclass(frozen=True, slots=True, kw_only=True)
class ContrastLadder:
    """Fields of bars of falling contrast, which show what a camera makes of faint contrast."""

    fine_bar_mm: float
    coarse_bar_mm: float
    cells: tuple[LadderCell, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """A line of print for people: left end of its baseline and font size [mm], words."""

    x_mm: float
    y_mm: float
    size_mm: float
    words: str
    bold: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TagPlace:
    """Where a tub's tag hangs, its marker in it, and the marker ids that are tubs."""

    slot: Box
    marker: Box
    ids: range


@dataclass(frozen=True, slots=True, kw_only=True)
class JarPlace:
    """Where the jar stands before the sheet, the line it is filled past, its printed outline."""

    zone: Box
    fill_line_y_mm: float
    outline: Box | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruler:
    """The printed ruler that proves the print scale."""

    start_mm: tuple[float, float]
    length_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RestPlace:
    """Where the bone lies beside the sheet, and the printed arrow that points there."""

    zone: Box
    arrow: Box


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetGeometry:
    """Where everything is on one design of sheet or chart [mm]; origin upper left, y down.

    Markers, patches and paper windows make a chart for colours. The other parts are None where a
    design has none: no sight or jar, no water; no rest, no bone but by an outline.

    Attributes
    ----------
    version : int
        Number of the design; 0 for a chart of the user's own.
    patch_values : pathlib.Path or None
        File of its nominal values; None when only measured ones serve.
    """

    version: int
    width_mm: float
    height_mm: float
    dictionary: str
    patch_values: Path | None
    markers: tuple[Marker, ...]
    paper_windows: tuple[Box, ...]
    patches: dict[str, Box]
    notes: tuple[Note, ...] = ()
    tag: TagPlace | None = None
    jar: JarPlace | None = None
    bars: Sight | None = None
    ladder: ContrastLadder | None = None
    ruler: Ruler | None = None
    rest: RestPlace | None = None

    @property
    def tag_slot(self) -> Box:
        """Return where a tag hangs."""
        return _part(self.tag, "tag").slot

    @property
    def tag_marker(self) -> Box:
        """Return where a hung tag's marker is."""
        return _part(self.tag, "tag").marker

    @property
    def tag_ids(self) -> range:
        """Return the marker ids that are tubs."""
        return _part(self.tag, "tag").ids

    @property
    def jar_zone(self) -> Box:
        """Return where the jar stands."""
        return _part(self.jar, "jar").zone

    @property
    def jar_outline(self) -> Box | None:
        """Return where the jar's outline is drawn; None where it is not."""
        return None if self.jar is None else self.jar.outline

    @property
    def fill_line_y_mm(self) -> float:
        """Return the line that the jar is filled past [mm]."""
        return _part(self.jar, "jar").fill_line_y_mm

    @property
    def sight(self) -> Sight:
        """Return the fields of bars."""
        return _part(self.bars, "sight")

    @property
    def ruler_start_mm(self) -> tuple[float, float]:
        """Return the ruler's zero [mm]."""
        return _part(self.ruler, "ruler").start_mm

    @property
    def ruler_length_mm(self) -> float:
        """Return the ruler's length [mm]."""
        return _part(self.ruler, "ruler").length_mm

    @property
    def rest_zone(self) -> Box:
        """Return where the bone lies."""
        return _part(self.rest, "rest").zone

    @property
    def rest_arrow(self) -> Box:
        """Return the arrow that points to the bone."""
        return _part(self.rest, "rest").arrow


def _part(part: Part | None, name: str) -> Part:
    """Return a part of a design that a caller needs."""
    if part is None:
        raise DataFileError(
            f"this chart's geometry has no part '{name}'",
            hint=f"add [{name}] to its geometry file, or use the greasecheck sheet",
        )
    return part


@dataclass(frozen=True, slots=True, kw_only=True)
class PatchValues:
    """Colours of the sheet's patches.

    Attributes
    ----------
    names : tuple of str
        Patch names, n of them.
    xyz : ndarray, shape (n, 3)
        CIE XYZ for D65 and the 2 degree observer, Y of the perfect diffuser = 100.
    measured : bool
        True for a user's own instrument readings (absolute), False for the printed intent.
    source : str
        Originator and instrument, for people.
    rgb : ndarray, shape (n, 3), uint8, or None
        What the printer is sent, sRGB; None when the file does not say.
    sheet_version : int or None
        Version of the sheet that they say they belong to.
    file : str
        Name of the file they were read from, for messages.
    """

    names: tuple[str, ...]
    xyz: FloatArray
    measured: bool
    source: str
    rgb: NDArray[np.uint8] | None = None
    sheet_version: int | None = None
    file: str = ""

    def of(self, name: str) -> FloatArray:
        """Return the XYZ, shape (3,), of the patch called `name`."""
        row: FloatArray = self.xyz[self.names.index(name)]
        return row


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
    advice : str
        What is wrong and what to do about it; for a failed check only.
    """

    name: str
    value: float | None
    limit: float
    passed: bool
    hard: bool
    advice: str


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
    """

    path: Path
    sha256: str
    pixels: NDArray[np.uint8] | NDArray[np.uint16]
    taken_at: datetime
    time_source: TimeSource
    camera: str
    transfer: NDArray[np.float32]

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
    tub : int or None
        Number of the tub whose tag hangs in the slot.
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
    tub: int | None
    pixels_per_mm: float
    tilt_deg: float
    residual_px: float
    tag_scale: float | None


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
    attenuation_per_m : tuple of float or None
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

    attenuation_per_m: tuple[float | None, float | None, float | None]
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
class BoneReading:
    """The bone on the rest.

    Attributes
    ----------
    yi_e313, yi_std : float
        Median yellowness index (ASTM E313, D65/2) and its standard error.
    yi_spread : float
        Interquartile range of the yellowness index over the bone.
    lab : tuple of float
        Median CIELAB (D65/2) of the better lit half, as are the three figures that follow.
    whiteness_cie, tint_cie : float
        CIE whiteness and tint (CIE 15, D65/2).
    delta_e00_clean : float
        CIEDE2000 to the clean-bone target.
    yellow_patch_share : float
        Share of the bone's seen area that lies in yellow patches, 0 to 1.
    area_mm2 : float
        Seen area of the bone [mm2].
    state : BoneState
        Wet, blotted or dry.
    """

    yi_e313: float
    yi_std: float
    yi_spread: float
    lab: tuple[float, float, float]
    whiteness_cie: float
    tint_cie: float
    delta_e00_clean: float
    yellow_patch_share: float
    area_mm2: float
    state: BoneState


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
    `part` tells several readings of one photo apart, such as "ladder-12"; the reading of the
    sheet has none.
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

    @property
    def key(self) -> str:
        """Return what names it in the logbook: its photo's digest, and its part after a colon."""
        return f"{self.photo_sha256}:{self.part}" if self.part else self.photo_sha256

    @property
    def advice(self) -> tuple[str, ...]:
        """Return what to do about the checks that failed, causes before what follows from them."""
        return tuple(dict.fromkeys(check.advice for check in self.checks if not check.passed))
