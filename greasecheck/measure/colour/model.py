"""From a photo's device values to scene light and CIE XYZ, by the sheet's patches."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import ColourError
from greasecheck.measure.colorimetry import LEAST_LUMINANCE, delta_e00, lab_from_xyz
from greasecheck.measure.colour.flatten import (
    EvenLight,
    agreeing,
    lit_paper,
    settle,
    without_own_grey,
)
from greasecheck.measure.colour.left_out import TYPICAL_LAB, YellownessError, yellowness_error
from greasecheck.measure.colour.matrix import ColourMatrix, fit_matrix
from greasecheck.measure.colour.patches import (
    SheetColours,
    is_bone_tone,
    is_neutral,
    read_sheet_colours,
)
from greasecheck.measure.colour.residual_light import LightMisfit, light_misfit
from greasecheck.measure.colour.saturation import saturation
from greasecheck.measure.robust import medians
from greasecheck.model import ColourFit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.measure.colour.light_field import LightField
    from greasecheck.measure.sheet.samples import PointSamples
    from greasecheck.model import (
        BoolArray,
        FloatArray,
        PatchValues,
        Photo,
        Placement,
        SheetGeometry,
    )

# Without a source, where none is named; the comment beside each value states what it does.
BONE_WEIGHT, NEUTRAL_WEIGHT = 8.0, 2.0  # importance in the fit, against 1 for the other patches
# Bone and ink alike by day differ by lamp. With it two standard errors hold 95 % of invented bones
# under 7 lamps with 3 cameras, with twice of it all of them (`tests.benchmarks.bone_yellowness`).
METAMERISM_YI = 0.4
# A share of 0.4 of the tone curve on the luminance is usual; one that is 1/2 farther off must lower
# the left-out error by 2.5 %. Real phones lie around 1/2, renders around 0. Doubled, the shares
# found for one phone scatter less, and curves on each channel alone are undone less well.
SHARE_PULL, USUAL_SHARE = 0.1, 0.4
ODD_DELTA_E00 = 4.0  # patches farther off than this, and than
ODD_MEDIANS = 4.0  # so many median differences, are left out
ODD_ROUNDS = 8  # of leaving out and taking back
# Bare paper shows the shape of the light, whatever its colour. The colour stated for it serves as
# one more patch only where it is no farther off than so many mean left-out errors of the others:
# what nobody measured would bend the whole tone curve.
PAPER_MISFITS = 2.0
# Fewest patches, greys and paper windows that determine the fit with some to spare
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
    yi_error : YellownessError
        Standard error of a yellowness index that comes from the fit, metamerism apart.
    misfit : LightMisfit
        How far the light on the sheet is from what `even` can follow.
    saturation : float or None
        How far the camera's channels lie apart; None for a chart without nominal colours.
    """

    fit: ColourFit
    even: EvenLight
    matrix: ColourMatrix
    dropped: tuple[str, ...]
    yi_error: YellownessError
    misfit: LightMisfit
    saturation: float | None

    @property
    def white(self) -> FloatArray:
        """Return the light of bare paper at the sheet's centre before scaling, shape (3,)."""
        return self.even.white

    @property
    def bone_yi_std(self) -> float:
        """Return the standard error of the yellowness index of a typical bone."""
        return self._yi_std(np.array(TYPICAL_LAB))

    def yi_std(self, xyz: FloatArray) -> float:
        """Return the standard error of the yellowness index of a bone's colour, XYZ, shape (3,).

        It comes from the patches, each predicted by a fit that left it out, and from metamerism.
        """
        return self._yi_std(lab_from_xyz(np.maximum(xyz, LEAST_LUMINANCE)))

    def _yi_std(self, lab: FloatArray) -> float:
        return float(np.hypot(self.yi_error.std(lab), METAMERISM_YI))

    def scene_linear(self, linear: FloatArray | NDArray[np.float32]) -> FloatArray:
        """Return scene light, bare paper at the sheet's centre = 1.

        Parameters
        ----------
        linear : ndarray, shape (..., 3)
            Linear light by the photo's transfer curves, 0 to 1, as in `Window.linear`.
        """
        return np.asarray(self.even.tone(linear) / self.white)

    def scene_of(self, samples: PointSamples) -> FloatArray:
        """Return the same for samples, each by itself: sooner where there are many."""
        return self.even.tone.of_samples(samples, self.white)

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
    fit = _by_measured if values.measured else _by_nominal
    chosen, fitted = fit(seen, placement.geometry)
    return _model(chosen, fitted, placement.geometry, absolute=values.measured)


def _by_nominal(seen: SheetColours, geometry: SheetGeometry) -> tuple[SheetColours, _Fit]:
    """Fit to the printed intent; bare paper is the white that all of it is relative to."""
    first = _fit(seen, seen.usable, geometry, measured=False)
    if (first.kept == seen.usable).all():
        return seen, first
    # once more without the patches found odd, which may have bent the tone
    return seen, _fit(seen, first.kept, geometry, measured=False)


def _by_measured(seen: SheetColours, geometry: SheetGeometry) -> tuple[SheetColours, _Fit]:
    """Fit to measured colours: at first without that of the paper, which may be a guess."""
    shape_only = replace(seen, known=seen.known & ~seen.paper, neutral=seen.neutral & ~seen.paper)
    first = _fit(shape_only, seen.usable, geometry, measured=True)
    chosen = seen if _paper_fits(seen, first) else shape_only
    kept = first.kept | (seen.usable & seen.paper)
    share = _luminance_share(chosen, kept, geometry)
    return chosen, _fit(chosen, kept, geometry, measured=True, share=share)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fit:
    """Light, tone and colour map by the patches `kept`; `camera`: all under even light."""

    even: EvenLight
    camera: FloatArray
    matrix: ColourMatrix
    kept: BoolArray


def _fit(
    seen: SheetColours,
    kept: BoolArray,
    geometry: SheetGeometry,
    *,
    measured: bool,
    share: float = 0.0,
) -> _Fit:
    _require(seen, kept)
    even = settle(seen, kept, geometry, measured=measured, luminance_share=share)
    camera = even(seen.linear, seen.points_mm)
    usable = seen.usable & (~seen.paper | lit_paper(seen, camera))
    matrix, close = _fit_kept(seen, camera, usable)
    return _Fit(even=even, camera=camera, matrix=matrix, kept=close)


def _luminance_share(seen: SheetColours, kept: BoolArray, geometry: SheetGeometry) -> float:
    """Find how far the camera puts its tone curve on the luminance: least left-out error.

    A parabola goes through the errors of 0, 1/2 and 1. Nominal values could not show it: what the
    printer does to the colours is larger.
    """
    none, half, whole = (
        _left_out_error(seen, kept, geometry, share) * (1 + SHARE_PULL * (share - USUAL_SHARE) ** 2)
        for share in (0.0, 0.5, 1.0)
    )
    bend = none - 2 * half + whole
    if bend <= 0:
        return float(whole < none)
    return float(np.clip(0.5 - (whole - none) / (4 * bend), 0, 1))


def _left_out_error(
    seen: SheetColours, kept: BoolArray, geometry: SheetGeometry, share: float
) -> float:
    """Mean CIEDE2000 of the left-out patches, each by its importance in the fit."""
    even = settle(seen, kept, geometry, measured=True, luminance_share=share)
    matrix = _fit_groups(seen, even(seen.linear, seen.points_mm), kept)
    xyz = _stem_means(seen, kept & seen.known, seen.xyz)
    return float(np.average(delta_e00(matrix.left_out_xyz, xyz), weights=_importance(xyz)))


def _paper_fits(seen: SheetColours, fitted: _Fit) -> bool:
    """Return whether bare paper has the colour that is stated, by a fit to the other patches."""
    paper = fitted.kept & seen.paper & seen.known
    if not paper.any():
        return False
    difference = delta_e00(fitted.matrix(fitted.camera[paper]), seen.xyz[paper])
    return bool(medians(difference) < PAPER_MISFITS * fitted.matrix.loo_delta_e00)


def _model(
    seen: SheetColours, fitted: _Fit, geometry: SheetGeometry, *, absolute: bool
) -> ColourModel:
    even, kept, matrix = fitted.even, fitted.kept, fitted.matrix
    xyz = _stem_means(seen, kept & seen.known, seen.xyz)
    left_out_xyz = _left_out_xyz(seen, fitted, measured=absolute)
    return ColourModel(
        fit=ColourFit(
            loo_delta_e00=float(delta_e00(left_out_xyz, xyz).mean()),
            absolute=absolute,
            order=matrix.order,
            clipped_share=float((seen.bright_share + seen.dark_share).mean()),
            gradient_ratio=_gradient_ratio(even.light, geometry),
        ),
        even=even,
        matrix=matrix,
        dropped=_names_where(seen, ~kept & ~seen.out_of_gamut & ~seen.paper),
        yi_error=yellowness_error(left_out_xyz, xyz),
        misfit=light_misfit(seen, fitted.camera, even.light, geometry),
        saturation=saturation(seen, fitted.camera, kept, geometry),
    )


def _left_out_xyz(seen: SheetColours, fitted: _Fit, *, measured: bool) -> FloatArray:
    """Predict each distinct colour without it: by the map that others tell, greys by their tone."""
    kept = fitted.kept & seen.known
    without = without_own_grey(seen, fitted.kept, fitted.even, measured=measured)
    moved = fitted.matrix(without) - fitted.matrix(fitted.camera)
    return np.asarray(fitted.matrix.left_out_xyz + _stem_means(seen, kept, moved))


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
    return seen.distinct(kept & seen.known), seen.distinct(greys), windows


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

    Twins that disagree both stay out until the others show which of them is right.
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
    """Return which patches the fit explains; the worst go first, as they may have bent it."""
    limit = max(ODD_DELTA_E00, ODD_MEDIANS * float(medians(difference[kept])))
    return np.asarray(difference <= max(limit, float(difference[kept].max()) / 2))


def _fit_groups(seen: SheetColours, camera: FloatArray, kept: BoolArray) -> ColourMatrix:
    _require(seen, kept)
    fitted = kept & seen.known
    mean_camera, mean_xyz = _stem_means(seen, fitted, camera), _stem_means(seen, fitted, seen.xyz)
    return fit_matrix(mean_camera, mean_xyz, _importance(mean_xyz))


def _importance(xyz: FloatArray) -> FloatArray:
    """Weight of each colour, XYZ of shape (n, 3): bone tones count most."""
    grey_or_not = np.where(is_neutral(xyz), NEUTRAL_WEIGHT, 1.0)
    return np.where(is_bone_tone(xyz), BONE_WEIGHT, grey_or_not)


def _stem_means(seen: SheetColours, kept: BoolArray, rows: FloatArray) -> FloatArray:
    """Mean row of each distinct colour."""
    stems, chosen = seen.stems[kept], rows[kept]
    counts = np.bincount(stems)
    sums = np.stack([np.bincount(stems, chosen[:, k]) for k in range(3)], axis=1)
    there = counts > 0
    return np.asarray(sums[there] / counts[there, np.newaxis])


def _names_where(seen: SheetColours, which: BoolArray) -> tuple[str, ...]:
    return tuple(name for name, chosen in zip(seen.names, which, strict=True) if chosen)


def _gradient_ratio(light: LightField, geometry: SheetGeometry) -> float:
    x, y = np.linspace(0, geometry.width_mm, 9), np.linspace(0, geometry.height_mm, 9)
    points = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    level = light(points).mean(axis=1)
    return float(level.max() / level.min())
