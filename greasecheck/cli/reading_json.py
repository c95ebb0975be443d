"""Shapes a reading as JSON, with units in the keys."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from greasecheck.model import BoneReading, Check, ColourFit, Reading, WaterReading


def reading_json(reading: Reading) -> dict[str, object]:
    """Return a reading as an object of plain JSON values."""
    return {
        "photo": reading.photo_path,
        "photo_sha256": reading.photo_sha256,
        "tub": reading.tub,
        "taken_at": reading.taken_at.isoformat() if reading.taken_at else None,
        "time_source": reading.time_source,
        "verdict": reading.verdict,
        "checks": [_check(check) for check in reading.checks],
        "water": _water(reading.water) if reading.water else None,
        "bone": _bone(reading.bone) if reading.bone else None,
        "colour": _colour(reading.colour) if reading.colour else None,
        "sheet_version": reading.sheet_version,
        "software_version": reading.software_version,
    }


def _check(check: Check) -> dict[str, object]:
    return {
        "name": check.name,
        "value": check.value,
        "limit": check.limit,
        "passed": check.passed,
        "hard": check.hard,
        "advice": check.advice,
    }


def _water(water: WaterReading) -> dict[str, object]:
    red, green, blue = water.attenuation_per_m
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


def _bone(bone: BoneReading) -> dict[str, object]:
    return {
        "yi_e313": bone.yi_e313,
        "yi_std": bone.yi_std,
        "yi_spread": bone.yi_spread,
        "lab": list(bone.lab),
        "whiteness_cie": bone.whiteness_cie,
        "tint_cie": bone.tint_cie,
        "delta_e00_clean": bone.delta_e00_clean,
        "yellow_patch_share": bone.yellow_patch_share,
        "area_mm2": bone.area_mm2,
        "state": bone.state,
    }


def _colour(colour: ColourFit) -> dict[str, object]:
    return {
        "loo_delta_e00": colour.loo_delta_e00,
        "absolute": colour.absolute,
        "order": colour.order,
        "clipped_share": colour.clipped_share,
        "gradient_ratio": colour.gradient_ratio,
    }
