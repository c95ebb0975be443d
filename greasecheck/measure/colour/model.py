"""From a photo's device values to scene light and CIE XYZ, by the sheet's patches."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import ColourError
from greasecheck.measure.colorimetry import delta_e00, yellowness_e313
from greasecheck.measure.colour.flatten import EvenLight, agreeing, lit_paper, settle
from greasecheck.measure.colour.matrix import ColourMatrix, fit_matrix
from greasecheck.measure.colour.patches import (
    SheetColours,
    is_bone_tone,
    is_neutral,
    read_sheet_colours,
)
from greasecheck.measure.colour.residual_light import LightMisfit, light_misfit
from greasecheck.model import ColourFit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.measure.colour.light_field import LightField
    from greasecheck.model import (
        BoolArray,
        FloatArray,
        PatchValues,
        Photo,
        Placement,
        SheetGeometry,
    )

# Own choices, where nothing else is said.
BONE_WEIGHT, NEUTRAL_WEIGHT = 8.0, 2.0  # importance in the fit, against 1 for the other patches
METAMERISM_YI = 1.0  # bone and ink alike by day differ by lamp: root mean square, own simulation
ODD_DELTA_E00 = 4.0  # patches farther off than this, and than
ODD_MEDIANS = 4.0  # so many median differences, are left out
ODD_ROUNDS = 8  # of leaving out and taking back
LEAST_COLOURS, LEAST_GREYS, LEAST_WINDOWS = 12, 4, 6
CAUSE_SHARE = 0.3  # of the paper burnt out, or of all samples black, to name that as the cause


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourModel:
    """How one photo's device values become scene light and CIE XYZ.

    Attributes
    ----------
    fit : ColourFit
        Figures of merit for the logbook.
    even : EvenLight
        The tone curve and the light across the sheet, undone.
    matrix : ColourMatrix
        From camera values under even light to XYZ.
    dropped : tuple of str
        Patches left out of the fit as clipped, hidden or smudged; those that only lie outside
        the camera's gamut are left out unnamed.
    bone_yi_std : float
        Standard error of the yellowness index of bone that comes from the fit: root mean square
        over the bone-tone patches, each predicted by a fit that left it out, and metamerism.
    misfit : LightMisfit
        How far the light on the sheet is from what `even` can follow.
    """

    fit: ColourFit
    even: EvenLight
    matrix: ColourMatrix
    dropped: tuple[str, ...]
    bone_yi_std: float
    misfit: LightMisfit

    @property
    def white(self) -> FloatArray:
        """Return the light of bare paper at the sheet's centre before scaling, shape (3,)."""
        return self.even.white

    def scene_linear(self, linear: FloatArray | NDArray[np.float32]) -> FloatArray:
        """Return scene light, bare paper at the sheet's centre = 1.

        Parameters
        ----------
        linear : ndarray, shape (..., 3)
            Linear light by the photo's transfer curves, 0 to 1, as in `Window.linear`.
        """
        return np.asarray(self.even.tone(linear) / self.white)

    def illuminance(self, points_mm: FloatArray) -> FloatArray:
        """Return the relative light, shape (n, 3) for R, G, B, at points, shape (n, 2) [mm]."""
        return self.even.light(points_mm)

    def to_xyz(self, even_light: FloatArray) -> FloatArray:
        """Return CIE XYZ (D65/2), Y of the perfect diffuser = 100.

        Parameters
        ----------
        even_light : ndarray, shape (..., 3)
            Scene light over illuminance.
        """
        return self.matrix(even_light)


def fit_colour(photo: Photo, placement: Placement, values: PatchValues) -> ColourModel:
    """Fit the tone curve, the light across the sheet and the colour map of one photo.

    Parameters
    ----------
    photo : Photo
        The decoded photo.
    placement : Placement
        Where the sheet is in it.
    values : PatchValues
        Colours of the sheet's patches and of its paper.

    Returns
    -------
    ColourModel
        Patches that a finger, a smudge or clipping spoils are left out and named.

    Raises
    ------
    ColourError
        When too few patches or paper windows can be used.
    """
    seen = read_sheet_colours(photo, placement, values)
    kept = seen.usable
    for _ in range(2):  # once more without the patches found odd, which may have bent the tone
        _require(seen, kept)
        even = settle(seen, kept, placement.geometry, measured=values.measured)
        camera = even(seen.linear, seen.points_mm)
        settled_by, kept = kept, seen.usable & (~seen.paper | lit_paper(seen, camera))
        matrix, kept = _fit_kept(seen, camera, kept)
        if (kept == settled_by).all():
            break  # none is odd: all would come out the same
    return ColourModel(
        fit=ColourFit(
            loo_delta_e00=matrix.loo_delta_e00,
            absolute=values.measured,
            order=matrix.order,
            clipped_share=float((seen.bright_share + seen.dark_share).mean()),
            gradient_ratio=_gradient_ratio(even.light, placement.geometry),
        ),
        even=even,
        matrix=matrix,
        dropped=_names_where(seen, ~kept & ~seen.out_of_gamut & ~seen.paper),
        bone_yi_std=_bone_yi_std(seen, kept, matrix),
        misfit=light_misfit(seen, camera, even.light, placement.geometry),
    )


def _require(seen: SheetColours, kept: BoolArray) -> None:
    """Refuse a photo that shows too little of the sheet's colours."""
    if not _enough(seen, kept):
        colours, greys, windows = _counts(seen, kept)
        raise ColourError(
            f"only {colours} colours of the sheet, {greys} greys and {windows} spots of bare"
            " paper among them, can be used",
            hint=_cause(seen),
        )


def _enough(seen: SheetColours, kept: BoolArray) -> bool:
    counts = _counts(seen, kept)
    return bool(np.all(np.array(counts) >= (LEAST_COLOURS, LEAST_GREYS, LEAST_WINDOWS)))


def _counts(seen: SheetColours, kept: BoolArray) -> tuple[int, int, int]:
    """Distinct colours, distinct greys beside the paper, and paper windows."""
    greys = kept & seen.neutral & ~seen.paper
    windows = int((kept & seen.paper).sum())
    return len(np.unique(seen.stems[kept & seen.known])), len(np.unique(seen.stems[greys])), windows


def _cause(seen: SheetColours) -> str:
    if seen.bright_share[seen.paper].mean() > CAUSE_SHARE:
        return "the paper is overexposed: take the photo again with less exposure"
    if seen.dark_share.mean() > CAUSE_SHARE:
        return "the sheet is too dark: take the photo again with more light"
    return "keep the whole sheet in view, clean and uncovered, and take the photo again"


def _fit_kept(
    seen: SheetColours, camera: FloatArray, usable: BoolArray
) -> tuple[ColourMatrix, BoolArray]:
    """Fit the colour map without odd patches: the map, and which were kept.

    Twins that disagree both stay out until the others have told which of them is right.
    """
    sure = usable & agreeing(seen, usable, camera)
    kept = sure if _enough(seen, sure) else usable
    for _ in range(ODD_ROUNDS):
        matrix = _fit_groups(seen, camera, kept)
        difference = np.where(seen.known, delta_e00(matrix(camera), seen.xyz), 0)
        close = usable & _close(difference, kept & seen.known)
        if (close == kept).all():
            return matrix, kept
        kept = close
    return _fit_groups(seen, camera, kept), kept


def _close(difference: FloatArray, kept: BoolArray) -> BoolArray:
    """Tell which patches the fit explains; the worst go first, as they may have bent it."""
    limit = max(ODD_DELTA_E00, ODD_MEDIANS * float(np.median(difference[kept])))
    return np.asarray(difference <= max(limit, float(difference[kept].max()) / 2))


def _fit_groups(seen: SheetColours, camera: FloatArray, kept: BoolArray) -> ColourMatrix:
    _require(seen, kept)
    fitted = kept & seen.known
    mean_camera, mean_xyz = _stem_means(seen, fitted, camera), _stem_means(seen, fitted, seen.xyz)
    grey_or_not = np.where(is_neutral(mean_xyz), NEUTRAL_WEIGHT, 1.0)
    weights = np.where(is_bone_tone(mean_xyz), BONE_WEIGHT, grey_or_not)
    return fit_matrix(mean_camera, mean_xyz, weights)


def _stem_means(seen: SheetColours, kept: BoolArray, rows: FloatArray) -> FloatArray:
    """Mean row of each distinct colour."""
    _, index, counts = np.unique(seen.stems[kept], return_inverse=True, return_counts=True)
    sums = np.zeros((len(counts), 3))
    np.add.at(sums, index, rows[kept])
    return np.asarray(sums / counts[:, None])


def _bone_yi_std(seen: SheetColours, kept: BoolArray, matrix: ColourMatrix) -> float:
    xyz = _stem_means(seen, kept & seen.known, seen.xyz)
    error = yellowness_e313(matrix.left_out_xyz) - yellowness_e313(xyz)
    bone = is_bone_tone(xyz)
    fit_variance = float(np.mean(error[bone if bone.any() else slice(None)] ** 2))
    return float(np.hypot(np.sqrt(fit_variance), METAMERISM_YI))


def _names_where(seen: SheetColours, which: BoolArray) -> tuple[str, ...]:
    return tuple(name for name, chosen in zip(seen.names, which, strict=True) if chosen)


def _gradient_ratio(light: LightField, geometry: SheetGeometry) -> float:
    x, y = np.linspace(0, geometry.width_mm, 9), np.linspace(0, geometry.height_mm, 9)
    points = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    level = light(points).mean(axis=1)
    return float(level.max() / level.min())
