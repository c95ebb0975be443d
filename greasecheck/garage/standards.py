"""The clear-water references and turbidity scales that the logbook has in force."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from greasecheck.errors import WaterError
from greasecheck.logbook.readings.standards import in_force, list_standards
from greasecheck.logbook.records import StandardKind
from greasecheck.measure.reading import DatedJar
from greasecheck.measure.sight.view import MAIN_CHANNEL
from greasecheck.measure.turbidity import ROUGH_SCALE, scale_from_json
from greasecheck.measure.water.reference_file import clear_water_from_json

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.logbook.store.book import Logbook
    from greasecheck.measure.reading import ReadSettings
    from greasecheck.measure.water.attenuation import Jar
    from greasecheck.measure.water.reference import ClearWater


def with_standards(settings: ReadSettings, book: Logbook) -> ReadSettings:
    """Fill in the references and scales of the logbook, where no file was named for them.

    Each photo is read by those in force when it was taken.
    """
    times = {
        standard.in_force_from
        for standard in list_standards(book)
        if standard.kind in {StandardKind.CLEAR_WATER, StandardKind.TURBIDITY}
    }
    dated = tuple(
        DatedJar(since=since, jar=_jar_since(settings.jar, book, since)) for since in sorted(times)
    )
    newest = dated[-1].jar if dated else settings.jar
    return replace(settings, jar=newest, dated_jars=dated)


def _jar_since(named: Jar, book: Logbook, since: datetime) -> Jar:
    jar = named
    clear = in_force(book, StandardKind.CLEAR_WATER, since)
    if named.clear is None and clear is not None:
        jar = replace(
            jar, clear=clear_water_from_json(clear.body, "the clear-water reference in force")
        )
    scale = in_force(book, StandardKind.TURBIDITY, since)
    if named.scale is ROUGH_SCALE and scale is not None:
        jar = replace(jar, scale=scale_from_json(scale.body, "the turbidity scale in force"))
    return jar


def require_depth(jar: Jar, path_mm: float | None) -> None:
    """Refuse a jar of another depth than that of its clear-water reference.

    Raises
    ------
    WaterError
        When `path_mm` was given and differs.
    """
    if path_mm is None or jar.clear is None or math.isclose(path_mm, jar.clear.path_mm):
        return
    raise WaterError(
        f"the clear-water reference is of a jar of {jar.clear.path_mm:g} mm, not {path_mm:g} mm",
        hint="make a clear-water reference with this jar",
    )


def murkier_per_m(book: Logbook, made: ClearWater) -> float | None:
    """Return how much murkier the water of a new reference seems than that of the one before.

    Below zero it seems clearer. None without an earlier one of the same camera, sheet and depth of
    jar.

    Parameters
    ----------
    book : Logbook
        Where the earlier one is.
    made : ClearWater
        The new one, not in force yet.

    Returns
    -------
    float or None
        Difference of the attenuations, in the main channel [1/m].
    """
    before = in_force(book, StandardKind.CLEAR_WATER, made.taken_at)
    if before is None:
        return None
    old = clear_water_from_json(before.body, "the clear-water reference in force")
    alike = (old.camera, old.sheet_version) == (made.camera, made.sheet_version)
    if not alike or not math.isclose(old.path_mm, made.path_mm):
        return None
    kept = made.fine.mean_ratio[MAIN_CHANNEL] / old.fine.mean_ratio[MAIN_CHANNEL]
    return -math.log(kept) / (made.path_mm / 1000)
