"""What to move, from one photo of the stand, of ladders or of the card."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from greasecheck.measure.checks.limits import GRADIENT, SCALE, TILT
from greasecheck.words.photos.readings import causes

if TYPE_CHECKING:
    from collections.abc import Set

    from greasecheck.measure.reading import PhotoView
    from greasecheck.model import Reading

# The main camera of a phone sees as a 26 mm lens before 36 mm of film (common practice, no
# source): 0.72 focal lengths to the picture's width. Twice that would double the distances below.
FOCAL_OF_WIDTH = 26.0 / 36.0
ROUND_TO_MM = 10
TIME_OR_TUB = frozenset({"time_from_camera", "tub_tag_seen", "clear_water_reference"})
NOT_SEEN = {
    "ladder": "no ladder is seen: take its whole plate, with the markers of both wings, sharp",
    "card": "no card is seen: lay it beside the skull, whole in the picture, and go nearer",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class StandAdvice:
    """What to do about a stand, the most telling first; all is well without any."""

    moves: tuple[str, ...]
    seen: bool

    @property
    def is_good(self) -> bool:
        """Return whether photos can be taken as it stands."""
        return self.seen and not self.moves


def first_photo_advice(view: PhotoView, measured_by: str) -> StandAdvice:
    """Return what to move, by what a person measures with.

    Parameters
    ----------
    view : PhotoView
        Of a photo of the stand, of ladders, or of the card with or without a skull.
    measured_by : str
        What should be in it.
    """
    if measured_by not in NOT_SEEN:
        return stand_advice(view)
    is_card = view.placement is not None and view.placement.geometry.is_card
    if not (view.ladders if measured_by == "ladder" else is_card):
        return StandAdvice(moves=(NOT_SEEN[measured_by],), seen=False)
    moves = (one for reading in view.readings for one in _failed(reading, TIME_OR_TUB))
    return StandAdvice(moves=tuple(dict.fromkeys(moves)), seen=True)


def stand_advice(view: PhotoView) -> StandAdvice:
    """Return what to move.

    Parameters
    ----------
    view : PhotoView
        Of a photo of the stand, with or without a jar.
    """
    placement = view.placement
    if view.photo is None or placement is None:
        return StandAdvice(moves=causes(view.reading)[:1], seen=False)
    width = view.photo.pixels.shape[1]
    moves = [*_distance(placement.pixels_per_mm, width)]
    if placement.tilt_deg > TILT.doubtful:
        moves.append("turn the camera to face the sheet squarely, as high as its middle")
    moves += _lamp(view)
    return StandAdvice(moves=(*moves, *_rest(view)), seen=True)


def _distance(pixels_per_mm: float, width_px: int) -> list[str]:
    """Return how far to move a camera that sees the sheet too small."""
    if pixels_per_mm >= SCALE.doubtful:
        return []
    distance_mm = FOCAL_OF_WIDTH * width_px / pixels_per_mm
    nearer_mm = distance_mm * (1 - pixels_per_mm / SCALE.doubtful)
    rounded = max(round(nearer_mm / ROUND_TO_MM) * ROUND_TO_MM, ROUND_TO_MM)
    return [f"put the camera about {rounded:.0f} mm nearer, or take more pixels"]


def _lamp(view: PhotoView) -> list[str]:
    if all(row.passed for row in view.reading.checks if row.name == GRADIENT.name):
        return []
    side = _brighter_side(view)
    return [f"the {side} is lit too strongly: move the lamp to the other side, or farther away"]


def _brighter_side(view: PhotoView) -> str:
    """Return which half of the picture is brighter, left or right."""
    assert view.photo is not None
    green = view.photo.pixels[..., 1]
    half = green.shape[1] // 2
    return "left" if green[:, :half].mean() > green[:, half:].mean() else "right"


def _rest(view: PhotoView) -> list[str]:
    """Return what else failed; what belongs to a tub's own photo is not asked of the stand."""
    return _failed(view.reading, {SCALE.name, TILT.name, GRADIENT.name} | TIME_OR_TUB)


def _failed(reading: Reading, elsewhere: Set[str]) -> list[str]:
    """Return what is wrong with a reading, the most telling first, leaving some checks out."""
    asked = tuple(check for check in reading.checks if check.name not in elsewhere)
    return list(causes(replace(reading, checks=asked)))
