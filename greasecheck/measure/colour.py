"""From a photo's device values to scene light and CIE XYZ, by the sheet's patches."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import ColourError
from greasecheck.measure.colorimetry import delta_e00, lab_from_xyz, yellowness_e313
from greasecheck.measure.colour_matrix import ColourMatrix, fit_matrix
from greasecheck.measure.illuminance import LightField, LightSamples, fit_light
from greasecheck.measure.patches import SheetColours, read_sheet_colours
from greasecheck.measure.tone import ToneCurve, fit_tone, identity_tone
from greasecheck.model import ColourFit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import FloatArray, PatchValues, Photo, Placement, SheetGeometry

    BoolArray = NDArray[np.bool_]

NEUTRAL_CHROMA = 6.0  # CIELAB chroma up to which a patch serves the tone curve
BONE_CHROMA = (3.0, 50.0)  # CIELAB chroma and hue of bone, from ivory to greasy brown
BONE_HUE_DEG = (55.0, 100.0)
MEASURED_STD = 0.01  # relative standard error of the light that a measured neutral sends
NOMINAL_STD = 0.10  # and of a nominal one: what printers do to greys
BONE_WEIGHT, NEUTRAL_WEIGHT = 8.0, 2.0  # importance in the fit, against 1 for the other patches
METAMERISM_YI = 1.0  # bone and ink alike by day differ by lamp: root mean square, own simulation
TURNS = 3  # tone curve and light settle in turns
SHADOWED = 0.05  # a paper window this much off the fitted light is in a shadow
ODD_DELTA_E00 = 4.0  # patches farther off than this, and than
ODD_MEDIANS = 4.0  # so many median differences, are left out
MAX_DROPS = 6  # rounds of leaving out
LEAST_COLOURS, LEAST_NEUTRALS, LEAST_WINDOWS = 12, 4, 6
CAUSE_SHARE = 0.3  # of the paper burnt out, or of all samples black, to name that as the cause


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourModel:
    """How one photo's device values become scene light and CIE XYZ.

    Attributes
    ----------
    fit : ColourFit
        Figures of merit for the logbook.
    tone : ToneCurve
        The camera's residual tone curve, undone.
    white : ndarray, shape (3,)
        Scene light of bare paper at the sheet's centre, before scaling.
    light : LightField
        Relative light over the sheet's plane.
    matrix : ColourMatrix
        From camera values under even light to XYZ.
    patch_delta_e00 : dict of str to float
        CIEDE2000 between each seen patch and its value.
    dropped : tuple of str
        Patches left out of the fit as clipped, hidden or smudged; those that only lie outside
        the camera's gamut are left out unnamed.
    bone_yi_std : float
        Standard error of the yellowness index of bone that comes from the fit: root mean square
        over the bone-tone patches, each predicted by a fit that left it out, and metamerism.
    """

    fit: ColourFit
    tone: ToneCurve
    white: FloatArray
    light: LightField
    matrix: ColourMatrix
    patch_delta_e00: dict[str, float]
    dropped: tuple[str, ...]
    bone_yi_std: float

    def scene_linear(self, linear: FloatArray | NDArray[np.float32]) -> FloatArray:
        """Return scene light, bare paper at the sheet's centre = 1.

        Parameters
        ----------
        linear : ndarray, shape (..., 3)
            Linear light by the photo's transfer curves, 0 to 1, as in `Window.linear`.
        """
        return np.asarray(self.tone(linear) / self.white)

    def illuminance(self, points_mm: FloatArray) -> FloatArray:
        """Return the relative light, shape (n, 3) for R, G, B, at points, shape (n, 2) [mm]."""
        return self.light(points_mm)

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
    _require(seen, seen.usable)
    std = MEASURED_STD if values.measured else NOMINAL_STD
    tone, light = _settle(seen, placement.geometry, std)
    scene = tone(seen.linear) / light(seen.points_mm)
    white = _paper_white(seen, scene)
    matrix, kept, difference = _fit_kept(seen, scene / white)
    return ColourModel(
        fit=ColourFit(
            loo_delta_e00=matrix.loo_delta_e00,
            absolute=values.measured,
            order=matrix.order,
            clipped_share=float((seen.bright_share + seen.dark_share).mean()),
            gradient_ratio=_gradient_ratio(light, placement.geometry),
        ),
        tone=tone,
        white=white,
        light=light,
        matrix=matrix,
        patch_delta_e00=_by_patch(seen, difference),
        dropped=_names_where(seen, ~kept & ~seen.out_of_gamut & ~seen.paper),
        bone_yi_std=_bone_yi_std(seen, kept, matrix),
    )


def _require(seen: SheetColours, usable: BoolArray) -> None:
    """Refuse a photo that shows too little of the sheet's colours."""
    neutral = _neutral(seen.xyz) & ~seen.paper
    found = (
        len(np.unique(seen.stems[usable])),
        len(np.unique(seen.stems[usable & neutral])),
        int((usable & seen.paper).sum()),
    )
    if any(
        count < least
        for count, least in zip(found, (LEAST_COLOURS, LEAST_NEUTRALS, LEAST_WINDOWS), strict=True)
    ):
        raise ColourError(
            f"only {found[0]} colours of the sheet, {found[1]} greys and {found[2]} spots of bare"
            " paper among them, can be used",
            hint=_cause(seen),
        )


def _cause(seen: SheetColours) -> str:
    if seen.bright_share[seen.paper].mean() > CAUSE_SHARE:
        return "the paper is overexposed: take the photo again with less exposure"
    if seen.dark_share.mean() > CAUSE_SHARE:
        return "the sheet is too dark: take the photo again with more light"
    return "keep the whole sheet in view, clean and uncovered, and take the photo again"


def _settle(
    seen: SheetColours, geometry: SheetGeometry, reference_std: float
) -> tuple[ToneCurve, LightField]:
    """Let the tone curve and the light across the sheet settle in turns."""
    grey = seen.usable & _neutral(seen.xyz)
    tone = identity_tone()
    light = _light(seen, tone, geometry)
    for _ in range(TURNS):
        expected = seen.xyz[grey, 1] * light(seen.points_mm[grey])[:, 1]
        tone = fit_tone(seen.linear[grey, 1], expected, reference_std)
        light = _light(seen, tone, geometry)
    return tone, light


def _light(seen: SheetColours, tone: ToneCurve, geometry: SheetGeometry) -> LightField:
    _, index, counts = np.unique(seen.stems[seen.usable], return_inverse=True, return_counts=True)
    repeated = np.flatnonzero(seen.usable)[counts[index] > 1]
    samples = LightSamples(
        points_mm=seen.points_mm[repeated],
        scene=tone(seen.linear[repeated]) / seen.xyz[repeated, 1:2],
        group=seen.stems[repeated],
    )
    return fit_light(samples, geometry.width_mm, geometry.height_mm)


def _paper_white(seen: SheetColours, scene: FloatArray) -> FloatArray:
    """Median light of the paper windows that no shadow touches, shape (3,)."""
    paper = scene[seen.paper & seen.usable]
    middle = np.median(paper, axis=0)
    lit = _lit(paper / middle)
    return np.asarray(np.median(paper[lit], axis=0)) if lit.any() else np.asarray(middle)


def _lit(paper: FloatArray) -> BoolArray:
    """Tell which paper windows, shape (n, 3), lie in no shadow: fully lit paper is 1."""
    return np.asarray(np.abs(paper - 1).max(axis=1) < SHADOWED)


def _fit_kept(seen: SheetColours, camera: FloatArray) -> tuple[ColourMatrix, BoolArray, FloatArray]:
    """Fit the colour map, leaving out odd patches: the map, what was kept, the differences."""
    kept = seen.usable & (~seen.paper | _lit(camera))
    for _ in range(MAX_DROPS):
        _require(seen, kept)
        matrix = _fit_groups(seen, camera, kept)
        difference = delta_e00(matrix(camera), seen.xyz)
        limit = max(ODD_DELTA_E00, ODD_MEDIANS * float(np.median(difference[kept])))
        worst = float(difference[kept].max())
        if worst <= limit:
            break
        kept = kept & (difference <= max(limit, worst / 2))
    return matrix, kept, difference


def _fit_groups(seen: SheetColours, camera: FloatArray, kept: BoolArray) -> ColourMatrix:
    mean_camera, mean_xyz = _stem_means(seen, kept, camera), _stem_means(seen, kept, seen.xyz)
    grey_or_not = np.where(_neutral(mean_xyz), NEUTRAL_WEIGHT, 1.0)
    weights = np.where(_bone_tone(mean_xyz), BONE_WEIGHT, grey_or_not)
    return fit_matrix(mean_camera, mean_xyz, weights)


def _stem_means(seen: SheetColours, kept: BoolArray, rows: FloatArray) -> FloatArray:
    """Mean row of each distinct colour."""
    _, index, counts = np.unique(seen.stems[kept], return_inverse=True, return_counts=True)
    sums = np.zeros((len(counts), 3))
    np.add.at(sums, index, rows[kept])
    return np.asarray(sums / counts[:, None])


def _bone_yi_std(seen: SheetColours, kept: BoolArray, matrix: ColourMatrix) -> float:
    xyz = _stem_means(seen, kept, seen.xyz)
    error = yellowness_e313(matrix.left_out_xyz) - yellowness_e313(xyz)
    bone = _bone_tone(xyz)
    fit_variance = float(np.mean(error[bone if bone.any() else slice(None)] ** 2))
    return float(np.hypot(np.sqrt(fit_variance), METAMERISM_YI))


def _names_where(seen: SheetColours, which: BoolArray) -> tuple[str, ...]:
    return tuple(name for name, chosen in zip(seen.names, which, strict=True) if chosen)


def _by_patch(seen: SheetColours, difference: FloatArray) -> dict[str, float]:
    return {
        name: float(value)
        for name, value, unseen, paper in zip(
            seen.names, difference, seen.unseen_share, seen.paper, strict=True
        )
        if unseen == 0 and not paper
    }


def _gradient_ratio(light: LightField, geometry: SheetGeometry) -> float:
    x, y = np.linspace(0, geometry.width_mm, 9), np.linspace(0, geometry.height_mm, 9)
    points = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    level = light(points).mean(axis=1)
    return float(level.max() / level.min())


def _chroma_hue(xyz: FloatArray) -> tuple[FloatArray, FloatArray]:
    lab = lab_from_xyz(xyz)
    return np.hypot(lab[:, 1], lab[:, 2]), np.degrees(np.arctan2(lab[:, 2], lab[:, 1]))


def _neutral(xyz: FloatArray) -> BoolArray:
    return np.asarray(_chroma_hue(xyz)[0] <= NEUTRAL_CHROMA)


def _bone_tone(xyz: FloatArray) -> BoolArray:
    chroma, hue = _chroma_hue(xyz)
    in_chroma = (chroma >= BONE_CHROMA[0]) & (chroma <= BONE_CHROMA[1])
    return np.asarray(in_chroma & (hue >= BONE_HUE_DEG[0]) & (hue <= BONE_HUE_DEG[1]))
