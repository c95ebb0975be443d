"""Readings: logging them from photos, entering them by hand, finding them again."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.logbook.readings.checks import store_checks
from greasecheck.logbook.readings.drawings import drawn_text
from greasecheck.logbook.records import Attempt, HandReading, LoggedReading
from greasecheck.logbook.skulls.skulls import require_skull
from greasecheck.logbook.store.mapping import select, stored, values_of
from greasecheck.logbook.store.tables import ATTEMPTS, READINGS
from greasecheck.logbook.store.times import LATER_THAN_ANY, to_text
from greasecheck.logbook.water.baths import ensure_tub, require_possible_time
from greasecheck.model import ReadingKind

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.logbook.store.book import Entry, Logbook
    from greasecheck.logbook.store.columns import Value
    from greasecheck.model import (
        BoneReading,
        ColourFit,
        LadderReading,
        LeftOut,
        Reading,
        WaterReading,
    )

BY_HAND = "hand:"  # begins the key of a reading without a photo
MURKIEST_PER_M = 50_000.0  # [1/m]; whole milk scatters about so much (from memory)


def insert_reading(entry: Entry, reading: Reading, tub: int, skull: str | None) -> bool:
    """Add a photo's reading, entering its tub if need be; return whether the tub was new.

    Raises
    ------
    LogbookError
        When the reading holds nothing, has no time, or `skull` is unknown.
    """
    if skull is not None:
        require_skull(entry, skull)
    new = ensure_tub(entry, tub)
    checks = store_checks(entry, reading.checks)
    entry.insert(READINGS, {**reading_values(reading), **checks, "tub": tub, "skull": skull})
    return new


def reading_under(book: Logbook, key: str) -> LoggedReading | None:
    """Return the reading under a key; None when there is none."""
    found = select(book, LoggedReading, READINGS, "WHERE key = ?", (key,))
    return found[0] if found else None


def readings_of_photo(book: Logbook, sha256: str) -> tuple[LoggedReading, ...]:
    """Return the readings of the photo of a digest, that of its sheet first."""
    # A semicolon follows the colon, which stands before a part.
    rest = "WHERE key = ? OR key > ? AND key < ? ORDER BY key"
    return select(book, LoggedReading, READINGS, rest, (sha256, f"{sha256}:", f"{sha256};"))


def enter_by_hand(book: Logbook, reading: HandReading) -> bool:
    """Enter a reading that has no photo; return whether its tub had to be entered too.

    Raises
    ------
    LogbookError
        When it holds neither haze nor yellowness, haze has no standard error, the same tub and
        second has one already, or the time lies in the future.
    """
    require_possible_time(reading.taken_at)
    problem = fault_of(values_of(reading))
    if problem:
        raise LogbookError(
            problem, hint="give a haze with its standard error above zero, or a yellowness"
        )
    key = hand_key(reading.tub, to_text(reading.taken_at))
    with book.entry(f"reading of tub {reading.tub} by hand") as entry:
        if entry.row(READINGS, (key,)) is not None:
            raise LogbookError(
                f"tub {reading.tub} already has a reading by hand at that time",
                hint="give another time, or mark the old reading wrong",
            )
        if reading.skull is not None:
            require_skull(entry, reading.skull)
        new = ensure_tub(entry, reading.tub)
        kind = reading.kind or kind_of(reading.attenuation_per_m)
        entry.insert(READINGS, {**values_of(reading), "key": key, "kind": kind})
    return new


def hand_key(tub: Value, taken_at: Value) -> str:
    """Return the key of a reading without a photo.

    Examples
    --------
    >>> hand_key(12, "2026-03-04T18:05:00Z")
    'hand:12:2026-03-04T18:05:00Z'
    """
    return f"{BY_HAND}{tub}:{taken_at}"


def kind_of(haze_per_m: Value) -> ReadingKind:
    """Return what a reading is of when nobody says: bone where it holds no haze [1/m]."""
    return ReadingKind.BONE if haze_per_m is None else ReadingKind.JAR


def fault_of(values: dict[str, Value]) -> str | None:
    """Return what a reading of named `values` lacks or cannot be, in words; None if nothing."""
    haze, yellowness = values.get("attenuation_per_m"), values.get("bone_yi_e313")
    std = values.get("attenuation_std_per_m")
    if haze is None and yellowness is None:
        return "the reading holds neither haze nor yellowness"
    if haze is None:
        return None
    if std is None:
        return "the haze has no standard error"
    if not (float(std) > 0 or values.get("bound")):
        return "the standard error of the haze is zero, and no reading is that sure"
    if float(haze) > MURKIEST_PER_M:
        return f"a haze of {haze:g} per m is murkier than milk"
    return None


def list_readings(
    book: Logbook,
    tub: int,
    *,
    since: datetime | None = None,
    until: datetime | None = None,
    wrong_too: bool = False,
) -> tuple[LoggedReading, ...]:
    """Return the readings of `tub` from `since` on and before `until`, oldest first.

    Parameters
    ----------
    book : Logbook
        Where to look.
    tub : int
        Number of the tub.
    since, until : datetime.datetime or None
        Leave out those before `since`, and those from `until` on.
    wrong_too : bool
        Whether to include those marked wrong.
    """
    rest = """WHERE tub = ? AND taken_at >= ? AND taken_at < ? AND wrong <= ?
        ORDER BY taken_at, key"""
    first, end = to_text(since) if since else "", to_text(until) if until else LATER_THAN_ANY
    parameters = (tub, first, end, int(wrong_too))
    return select(book, LoggedReading, READINGS, rest, parameters)


def readings_of_skull(book: Logbook, name: str) -> tuple[LoggedReading, ...]:
    """Return the readings on which the skull called `name` was named, oldest first."""
    rest = "WHERE skull = ? AND wrong = 0 ORDER BY taken_at, key"
    return select(book, LoggedReading, READINGS, rest, (name,))


def newest_bone_photo(book: Logbook, tub: int, skull: str) -> str | None:
    """Return the path of the newest photo in which this skull's bone was read; None without one."""
    newest = book.rows(
        """SELECT photo_path FROM readings WHERE tub = ? AND wrong = 0 AND photo_path != ''
        AND bone_yi_e313 IS NOT NULL AND (skull IS NULL OR skull = ?)
        ORDER BY taken_at DESC, key DESC LIMIT 1""",
        (tub, skull),
    )
    return newest[0][0] if newest else None


def find_reading(book: Logbook, tub: int, at: datetime | None = None) -> LoggedReading:
    """Return the reading of `tub` nearest to `at`, or its newest, wrong or not.

    Raises
    ------
    LogbookError
        When the tub has none.
    """
    time = LATER_THAN_ANY if at is None else to_text(at)
    before = "WHERE tub = ? AND taken_at <= ? ORDER BY taken_at DESC, key LIMIT 1"
    after = "WHERE tub = ? AND taken_at > ? ORDER BY taken_at, key LIMIT 1"
    near = [
        reading
        for rest in (before, after)
        for reading in select(book, LoggedReading, READINGS, rest, (tub, time))
    ]
    if not near:
        raise LogbookError(f"tub {tub} has no reading", hint="see the list of tubs")
    return near[0] if at is None else min(near, key=lambda one: abs(one.taken_at - at))


def open_attempts(book: Logbook) -> tuple[Attempt, ...]:
    """Return the photos that gave no reading and were not read later either, oldest first."""
    rest = """WHERE NOT EXISTS (SELECT 1 FROM readings WHERE key = attempts.photo_sha256)
        AND (photo_sha256 GLOB '[0-9a-f]*:*'
            OR NOT EXISTS (SELECT 1 FROM readings WHERE photo_path = attempts.photo_path))
        ORDER BY tried_at, photo_path"""
    return select(book, Attempt, ATTEMPTS, rest)


def reading_values(reading: Reading) -> dict[str, Value]:
    """Return a photo's reading as columns of the readings table, except for skull and checks."""
    values: dict[str, Value] = {
        "key": reading.key,
        "kind": reading.kind,
        "tub": reading.tub,
        "taken_at": stored(reading.taken_at),
        "time_source": reading.time_source,
        "verdict": reading.verdict,
        "photo_path": reading.photo_path,
        "sheet_version": reading.sheet_version,
        "software_version": reading.software_version,
        "fingerprint": reading.fingerprint,
        "drawn": drawn_text(reading.drawn),
    }
    if reading.water is not None:
        values |= _water_values(reading.water)
    if reading.ladder is not None:
        values |= _ladder_values(reading.ladder)
    if reading.bone is not None:
        values |= _bone_values(reading.bone)
    if reading.colour is not None:
        values |= _colour_values(reading.colour)
    return values


def _left_out_text(left_out: Sequence[LeftOut]) -> str | None:
    rows = [[one.reason, one.count, round(one.area_mm2, 1)] for one in left_out]
    return json.dumps(rows) if rows else None


def _water_values(water: WaterReading) -> dict[str, Value]:
    red, green, blue = water.attenuation_rgb_per_m
    return {
        "attenuation_per_m": water.main_per_m,
        "attenuation_std_per_m": water.std_per_m,
        "bound": water.bound,
        "attenuation_r_per_m": red,
        "attenuation_g_per_m": green,
        "attenuation_b_per_m": blue,
        "forward_scatter": water.forward_scatter,
        "tint_yi": water.tint_yi,
        "path_mm": water.path_mm,
        "dilution": water.dilution,
        "turbidity": water.turbidity,
        "turbidity_std": water.turbidity_std,
        "turbidity_unit": water.turbidity_unit,
    }


def _ladder_values(ladder: LadderReading) -> dict[str, Value]:
    return {
        "decay_per_m": ladder.decay_per_m,
        "decay_std_per_m": ladder.decay_std_per_m,
        "level_mm": ladder.level_mm,
        "level_std_mm": ladder.level_std_mm,
    }


def _bone_values(bone: BoneReading) -> dict[str, Value]:
    lightness, a, b = bone.lab
    return {
        "bone_yi_e313": bone.yi_e313,
        "bone_yi_std": bone.yi_std,
        "bone_yi_spread": bone.yi_spread,
        "bone_lab_l": lightness,
        "bone_lab_a": a,
        "bone_lab_b": b,
        "bone_whiteness_cie": bone.whiteness_cie,
        "bone_tint_cie": bone.tint_cie,
        "bone_delta_e00_clean": bone.delta_e00_clean,
        "bone_yellow_patch_share": bone.yellow_patch_share,
        "bone_yellow_share_std": bone.yellow_share_std,
        "bone_area_mm2": bone.area_mm2,
        "bone_state": bone.state,
        "bone_left_out": _left_out_text(bone.left_out),
    }


def _colour_values(colour: ColourFit) -> dict[str, Value]:
    return {
        "colour_loo_delta_e00": colour.loo_delta_e00,
        "colour_absolute": int(colour.absolute),
        "colour_order": colour.order,
        "colour_clipped_share": colour.clipped_share,
        "colour_gradient_ratio": colour.gradient_ratio,
    }
