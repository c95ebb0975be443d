"""Sets up the stand: the clear-water reference and the turbidity scale, from photos."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.errors import WaterError
from greasecheck.measure.bone.look import rest_light
from greasecheck.measure.checks.limits import (
    DARK_LIFT,
    FAINT_GAIN,
    FINE_LOSS,
    JAR_PATH,
    WIDE_LIFT,
)
from greasecheck.measure.checks.verdict import clear_water_checks, path_check
from greasecheck.measure.colour.model import fit_colour
from greasecheck.measure.photo.load import load_photo
from greasecheck.measure.reading import view_photo
from greasecheck.measure.sheet.fingerprint import photo_fingerprint
from greasecheck.measure.sight.view import look_at_sight
from greasecheck.measure.turbidity import Dilution
from greasecheck.measure.water.jar_depth import path_by_bars
from greasecheck.measure.water.reference import ClearPhoto
from greasecheck.measure.water.surroundings import look_around
from greasecheck.model import TimeSource
from greasecheck.words.photos.checks import check_words, failed_checks
from greasecheck.words.photos.clear_water import (
    WITHOUT_TAG,
    clear_water_without_time,
    tag_of_a_bath,
)

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.measure.reading import ReadSettings
    from greasecheck.model import Photo

# What a camera does to contrast leaves its readings doubtful, but some phones know no other way;
# the jar's depth by the bars rests on how far away the camera is thought to be.
ASKED_ROWS = frozenset(
    limit.name for limit in (FAINT_GAIN, FINE_LOSS, DARK_LIFT, WIDE_LIFT, JAR_PATH)
)


def view_clear_water(path: Path, settings: ReadSettings, *, tap_water: bool = False) -> ClearPhoto:
    """Measure a photo of the jar filled with clean tap water.

    Parameters
    ----------
    path : pathlib.Path
        The photo.
    settings : ReadSettings
        Patch values and lens; the jar's own reference is not used.
    tap_water : bool
        Whether a person confirmed that the jar holds tap water, though a tub's tag is in the slot.

    Raises
    ------
    GreasecheckError
        When the photo cannot be used, or does not show a filled jar well enough.
    """
    photo = load_photo(path, settings.default_zone)
    placement = settings.place_of(photo)
    if placement.tub is not None and not tap_water:
        raise WaterError(tag_of_a_bath(path.name, placement.tub), hint=WITHOUT_TAG)
    colour = fit_colour(photo, placement, settings.values_of(placement.geometry))
    sight = look_at_sight(photo, placement, colour)
    by_bars, path_mm = path_by_bars(sight, photo, placement), settings.jar.path_mm
    depth = path_check(by_bars, path_mm)
    asked = []
    checks = (*clear_water_checks(placement, colour, sight, path_mm), depth)
    for check in failed_checks(checks):
        if check.name in ASKED_ROWS and not check.hard:
            asked.append(f"{path.name}: {check_words(check)}")
        else:
            problem, _, hint = check_words(check).partition(": ")
            raise WaterError(
                f"{path.name} cannot serve as clear-water reference: {problem}",
                hint=hint or "take the photo again",
            )
    return ClearPhoto(
        sight=sight,
        sheet_version=placement.geometry.version,
        taken_at=photo.taken_at,
        camera=photo.camera,
        name=path.name,
        surroundings=look_around(photo, placement, colour, sight),
        rest=rest_light(photo, placement, colour),
        doubts=(*asked, *_doubts(photo)),
        doubted_path_mm=None if depth.passed else by_bars.path_mm,
        fingerprint=photo_fingerprint(photo, placement),
    )


def _doubts(photo: Photo) -> tuple[str, ...]:
    """Return why a photo may not be of its time."""
    if photo.time_source is not TimeSource.FILE:
        return ()
    return (clear_water_without_time(photo.path.name, photo.taken_at),)


def view_dilution(
    path: Path, settings: ReadSettings, turbidity: float, turbidity_std: float
) -> Dilution:
    """Measure a photo of one step of a dilution series of known turbidity.

    Raises
    ------
    WaterError
        When the photo gives no good reading of the water.
    """
    reading = view_photo(path, settings).reading
    failed = [check_words(check) for check in failed_checks(reading.checks)]
    water = reading.water
    if failed or water is None or water.bound is not None:
        reason = failed[0] if failed else "the water is outside the range that can be measured"
        raise WaterError(
            f"{path.name} cannot serve in a dilution series: {reason}",
            hint="take the photo again, or leave the step out",
        )
    return Dilution(
        turbidity=turbidity,
        turbidity_std=turbidity_std,
        attenuation_per_m=water.main_per_m,
        std_per_m=water.std_per_m,
    )
