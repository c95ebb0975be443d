"""Where everything is on a sheet or chart, and the colours of its patches."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.errors import DataFileError

if TYPE_CHECKING:
    from pathlib import Path
    from typing import TypeVar

    import numpy as np
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]
    Part = TypeVar("Part")


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
    """Where a tag of a tub or skull hangs, and its marker in it."""

    slot: Box
    marker: Box


@dataclass(frozen=True, slots=True, kw_only=True)
class JarPlace:
    """Where the jar stands before the sheet, the line it is filled past, its printed outline.

    `beside` are places of bare paper on both sides of it.
    """

    zone: Box
    fill_line_y_mm: float
    outline: Box | None = None
    beside: tuple[Box, ...] = ()


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
    def is_card(self) -> bool:
        """Whether bone is looked for all around it: it has no place for a jar or a bone."""
        return self.bars is None and self.rest is None

    @property
    def tag_slot(self) -> Box:
        """Return where a tag hangs."""
        return _part(self.tag, "tag").slot

    @property
    def tag_marker(self) -> Box:
        """Return where a hung tag's marker is."""
        return _part(self.tag, "tag").marker

    @property
    def jar_zone(self) -> Box:
        """Return where the jar stands."""
        return _part(self.jar, "jar").zone

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
