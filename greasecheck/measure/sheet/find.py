"""Finds the reference sheet in a photo."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import SheetError
from greasecheck.measure.sheet.checks import (
    patch_correlation,
    refuse_second_sheet,
    refuse_stretched_print,
    refuse_unfit_place,
    refuse_unknown_version,
    refuse_wrong_patches,
    scale_px_per_mm,
    why_no_sheet,
)
from greasecheck.measure.sheet.corners import refine
from greasecheck.measure.sheet.lens import fit_lens_to_photo, project, undistort
from greasecheck.measure.sheet.markers import (
    detect_at_a_glance,
    detect_near,
    detect_quickly,
    detect_thoroughly,
    grey_of,
)
from greasecheck.measure.sheet.pose import LOOSE_TOLERANCE_MM, attitude, best_pose, box_corners
from greasecheck.model import Placement
from greasecheck.reference import known_sheets
from greasecheck.reference.tags import TAG_DICTIONARY, tag_markers, tag_with

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.measure.sheet.markers import Grey, SeenMarker
    from greasecheck.measure.sheet.pose import Pose
    from greasecheck.model import Box, FloatArray, Lens, PatchValues, Photo, SheetGeometry

SEARCH_MARGIN = 0.4  # of a marker's side, around where it should be
SLOT_MARGIN_MM = 6.0  # a tag this far out of its slot still counts as hung there


@dataclass(frozen=True, slots=True, kw_only=True)
class Sighting:
    """A sheet seen in a grey photo, not yet checked.

    Attributes
    ----------
    geometry : SheetGeometry
        Its version.
    pose : Pose
        Its pose, with corners refined at full resolution.
    seen : tuple of SeenMarker
        All markers seen in the photo, the sheet's and others.
    """

    geometry: SheetGeometry
    pose: Pose
    seen: tuple[SeenMarker, ...]


def find_sheet(
    photo: Photo,
    lens: Lens | None = None,
    sheets: Sequence[SheetGeometry] = (),
    values: PatchValues | None = None,
    seen: tuple[SeenMarker, ...] = (),
) -> Placement:
    """Find the reference sheet in a photo.

    The sheet may be turned any way round and tilted to about 35 degrees; one corner marker may be
    hidden. Its patches must lie where the markers put them.

    Parameters
    ----------
    photo : Photo
        The decoded photo.
    lens : Lens, optional
        The calibrated lens of a fixed camera; scaled when the photo is of another size.
    sheets : sequence of SheetGeometry
        The designs to look for; empty for those that come with greasecheck.
    values : PatchValues, optional
        Colours of the patches of a chart without nominal ones.
    seen : tuple of SeenMarker
        Markers that are known to be in the photo: of all the designs that it may show.

    Returns
    -------
    Placement
        Where the sheet is.

    Raises
    ------
    SheetError
        When there is no sheet, or two, a mirrored, stretched, bent, cut or unknown one.
    DataFileError
        When the lens cannot belong to this photo.
    """
    grey = grey_of(photo)
    size_px = grey.shape[1], grey.shape[0]
    fitted = None if lens is None else fit_lens_to_photo(lens, *size_px)
    sighting = see_sheet(grey, fitted, sheets, seen)
    pose, geometry = sighting.pose, sighting.geometry
    refuse_unknown_version(sighting.seen, pose, geometry, fitted)
    refuse_unfit_place(pose, geometry, fitted, size_px)
    refuse_wrong_patches(grey, pose, geometry, fitted, values)
    turned = attitude(pose.homography, size_px, fitted)
    refuse_stretched_print(turned, fitted)
    tag = _tag_in_slot(grey, sighting, fitted)
    return Placement(
        homography=pose.homography,
        lens=fitted,
        geometry=geometry,
        marker_ids=tuple(marker.id for marker in pose.markers),
        tag=None if tag is None else tag_with(tag.id),
        pixels_per_mm=scale_px_per_mm(pose, geometry),
        tilt_deg=turned.tilt_deg,
        residual_px=pose.residual_px,
        tag_scale=None if tag is None else _tag_scale(tag, pose, geometry, fitted),
    )


def see_sheet(
    grey: Grey,
    lens: Lens | None,
    sheets: Sequence[SheetGeometry] = (),
    seen: tuple[SeenMarker, ...] = (),
) -> Sighting:
    """See the sheet's markers and fit its pose, without the checks of `find_sheet`.

    Parameters
    ----------
    grey : ndarray, shape (height, width), uint8
        The photo.
    lens : Lens or None
        The calibrated lens, for this size of photo.
    sheets : sequence of SheetGeometry
        As for `find_sheet`.
    seen : tuple of SeenMarker
        As for `find_sheet`; it is looked for others where these do not show the sheet.

    Raises
    ------
    SheetError
        When fewer than three corner markers agree, or a second sheet is seen.
    """
    designs = sheets or known_sheets()
    names = {one.dictionary for one in designs}
    for look in (partial(_known, seen), detect_quickly, detect_thoroughly):
        rough = _rough_sightings(designs, {name: look(grey, name) for name in names}, lens)
        named = [found for found in rough if _shows_version(found)]
        sightings = [_sharpened(grey, found, lens) for found in named or rough]
        if len(sightings) == 1:
            return sightings[0]
        if sightings:
            return max(sightings, key=lambda found: _merit(grey, found, lens))
    raise why_no_sheet(grey, designs)


def _known(seen: tuple[SeenMarker, ...], grey: Grey, dictionary: str) -> tuple[SeenMarker, ...]:
    return seen or detect_at_a_glance(grey, dictionary)


def _rough_sightings(
    designs: Sequence[SheetGeometry], seen: dict[str, tuple[SeenMarker, ...]], lens: Lens | None
) -> tuple[Sighting, ...]:
    """Fit the pose of each design whose corner markers are among those seen."""
    found: list[Sighting] = []
    for geometry in designs:
        markers = seen[geometry.dictionary]
        refuse_second_sheet(markers, geometry)
        pose = best_pose(markers, geometry, lens, LOOSE_TOLERANCE_MM)
        if pose is not None:
            found.append(Sighting(geometry=geometry, pose=pose, seen=markers))
    return tuple(found)


def _shows_version(found: Sighting) -> bool:
    """Whether the marker that names the version is seen where that version has it."""
    version_ids = {marker.id for marker in found.geometry.markers if not marker.corner}
    return any(marker.id in version_ids for marker in found.pose.markers)


def _merit(grey: Grey, found: Sighting, lens: Lens | None) -> tuple[bool, float]:
    """Rank a version: by its own marker being seen, then by how well its patches fit."""
    return _shows_version(found), patch_correlation(grey, found.pose, found.geometry, lens)


def _sharpened(grey: Grey, sighting: Sighting, lens: Lens | None) -> Sighting:
    """Look again at full resolution: for the markers missed, and at each corner."""
    geometry, rough = sighting.geometry, sighting.pose
    found = {marker.id: marker for marker in rough.markers}
    late: list[SeenMarker] = []
    for marker in geometry.markers:
        if marker.id not in found:
            around = marker.box.inset(-SEARCH_MARGIN * marker.box.width_mm)
            late += _detect_in_box(grey, geometry, rough, around, lens)
    found |= {marker.id: marker for marker in late}
    sharp = refine(grey, list(found.values()))
    pose = best_pose(sharp, geometry, lens, LOOSE_TOLERANCE_MM)
    return Sighting(geometry=geometry, pose=pose or rough, seen=(*sighting.seen, *late))


def _detect_in_box(
    grey: Grey, geometry: SheetGeometry, pose: Pose, box: Box, lens: Lens | None
) -> tuple[SeenMarker, ...]:
    outline_px = project(pose.homography, lens, box_corners(box))
    return detect_near(grey, geometry.dictionary, outline_px)


def _tag_in_slot(grey: Grey, sighting: Sighting, lens: Lens | None) -> SeenMarker | None:
    """Find the tub's tag that hangs in the slot; tags elsewhere do not count."""
    geometry, pose = sighting.geometry, sighting.pose
    if geometry.tag is None:
        return None
    zone = geometry.tag_slot.inset(-SLOT_MARGIN_MM)
    around = zone.inset(-geometry.tag_marker.width_mm / 2)
    outline_px = project(pose.homography, lens, box_corners(around))
    near = detect_near(grey, TAG_DICTIONARY, outline_px, tag_markers())
    hung = [tag for tag in near if _in_zone(tag, zone, pose, lens)]
    if len(hung) > 1:
        numbers = " and ".join(_tag_words(tag) for tag in hung)
        raise SheetError(
            f"two tags are in the slot: {numbers}",
            hint="hang only the tag of the tub that the water came from",
        )
    return refine(grey, hung)[0] if hung else None


def _tag_words(seen: SeenMarker) -> str:
    tag = tag_with(seen.id)
    return f"{tag.owner} {tag.number}" if tag else str(seen.id)


def _in_zone(tag: SeenMarker, zone: Box, pose: Pose, lens: Lens | None) -> bool:
    x_mm, y_mm = _to_sheet(tag, pose, lens).mean(axis=0)
    across = zone.x_mm <= x_mm <= zone.x_mm + zone.width_mm
    return bool(across and zone.y_mm <= y_mm <= zone.y_mm + zone.height_mm)


def _tag_scale(tag: SeenMarker, pose: Pose, geometry: SheetGeometry, lens: Lens | None) -> float:
    corners_mm = _to_sheet(tag, pose, lens)
    sides_mm = np.hypot(*(corners_mm - np.roll(corners_mm, -1, axis=0)).T)
    return float(sides_mm.mean() / geometry.tag_marker.width_mm)


def _to_sheet(tag: SeenMarker, pose: Pose, lens: Lens | None) -> FloatArray:
    """Corners of a marker on the sheet, shape (4, 2) [mm]."""
    ideal_px = tag.corners_px if lens is None else undistort(tag.corners_px, lens)
    return project(pose.inverse, None, ideal_px)
