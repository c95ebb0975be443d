"""Shapes a reading as JSON, with units in the keys."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.cli.shared.plain import plain
from greasecheck.words.photos.checks import check_words

if TYPE_CHECKING:
    from collections.abc import Iterable

    from greasecheck.measure.moments import Moment
    from greasecheck.model import Check, Reading, WaterReading


def moment_json(moment: Moment) -> dict[str, object]:
    """Return what several photos of one moment say together."""
    haze, bone = moment.attenuation, moment.yellowness
    return {
        "tub": moment.tub,
        "taken_at": moment.taken_at.isoformat(),
        "photos": list(moment.photos),
        "left_out": list(moment.left_out),
        "attenuation_per_m": haze and haze.value,
        "attenuation_std_per_m": haze and haze.std,
        "bone_yi_e313": bone and bone.value,
        "bone_yi_std": bone and bone.std,
    }


def reading_json(reading: Reading) -> dict[str, object]:
    """Return a reading as an object of plain JSON values."""
    return {
        "photo": reading.photo_path,
        "photo_sha256": reading.photo_sha256,
        "kind": reading.kind,
        "part": reading.part or None,
        "tub": reading.tub,
        "taken_at": plain(reading.taken_at),
        "time_source": reading.time_source,
        "verdict": reading.verdict,
        "checks": checks_json(reading.checks),
        "water": _water(reading.water) if reading.water else None,
        "ladder": plain(reading.ladder),
        "bone": plain(reading.bone),
        "absent": plain(reading.absent),
        "colour": plain(reading.colour),
        "sheet_version": reading.sheet_version,
        "software_version": reading.software_version,
    }


def checks_json(checks: Iterable[Check]) -> list[dict[str, object]]:
    """Return checks as objects, each failed one with what is wrong and what to do."""
    return [
        {
            "name": check.name,
            "value": check.value,
            "limit": check.limit,
            "passed": check.passed,
            "hard": check.hard,
            "advice": check_words(check),
        }
        for check in checks
    ]


def _water(water: WaterReading) -> dict[str, object]:
    red, green, blue = water.attenuation_rgb_per_m
    return {
        "attenuation_per_m": {"r": red, "g": green, "b": blue, "main": water.main_per_m},
        "attenuation_std_per_m": water.std_per_m,
        "bound": water.bound,
        "forward_scatter": water.forward_scatter,
        "tint_yi": water.tint_yi,
        "path_mm": water.path_mm,
        "dilution": water.dilution,
        "turbidity": water.turbidity,
        "turbidity_std": water.turbidity_std,
        "turbidity_unit": water.turbidity_unit,
    }
