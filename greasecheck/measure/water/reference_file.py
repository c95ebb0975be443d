"""The clear-water reference as the text of a JSON file."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import datetime
from typing import Any

import numpy as np

from greasecheck.errors import DataFileError
from greasecheck.measure.sight.bars import Alignment
from greasecheck.measure.sight.jar_light import JarLight
from greasecheck.measure.sight.shade import WaterShade
from greasecheck.measure.sight.veil_edge import MOVED_BANDS, VeilDown
from greasecheck.measure.sight.view import BarLevels, rgb_tuple
from greasecheck.measure.water.reference import BANDS, ClearWater, FieldReference
from greasecheck.measure.water.surroundings import Surroundings
from greasecheck.model.bone import GroundLight

SCHEMA = 1
KIND = "clear water"
LEVELS = ("white_kept", "dry_white", "dry_black")


def clear_water_to_json(clear: ClearWater) -> str:
    """Write a reference as the text of a JSON file, readable by `clear_water_from_json`."""
    body = {
        "schema": SCHEMA,
        "kind": KIND,
        "path_mm": clear.path_mm,
        "sheet_version": clear.sheet_version,
        "taken_at": clear.taken_at.isoformat(),
        "camera": clear.camera,
        "photos": clear.photos,
        "surroundings": clear.surroundings and asdict(clear.surroundings),
        "fine": asdict(clear.fine),
        "coarse": asdict(clear.coarse),
        "glass_modulation": clear.glass_modulation,
        "shade": clear.shade and asdict(clear.shade),
        "rest": clear.rest and asdict(clear.rest),
        "veil_down": clear.veil_down and asdict(clear.veil_down),
    }
    return json.dumps(body, indent=2, allow_nan=False) + "\n"


def clear_water_from_json(text: str, name: str) -> ClearWater:
    """Read a reference from the text of a JSON file.

    Parameters
    ----------
    text : str
        What `clear_water_to_json` wrote.
    name : str
        Name of the file, for error messages.

    Raises
    ------
    DataFileError
        When the text is no clear-water reference of a known schema.
    """
    hint = "make the clear-water reference again"
    try:
        body = json.loads(text)
        if body["kind"] != KIND or body["schema"] != SCHEMA:
            raise DataFileError(
                f"{name} is not a clear-water reference of schema {SCHEMA}", hint=hint
            )
        return _from_body(body)
    except (ArithmeticError, KeyError, RecursionError, TypeError, ValueError) as error:
        raise DataFileError(f"{name} is no clear-water reference: {error!r}", hint=hint) from error


def _from_body(body: dict[str, Any]) -> ClearWater:
    path_mm, taken_at = float(body["path_mm"]), datetime.fromisoformat(body["taken_at"])
    if not 0 < path_mm < np.inf or taken_at.tzinfo is None:
        raise ValueError("its jar must have a depth and its time a zone")
    return ClearWater(
        fine=_field(body["fine"]),
        coarse=_field(body["coarse"]),
        path_mm=path_mm,
        sheet_version=int(body["sheet_version"]),
        taken_at=taken_at,
        camera=str(body["camera"]),
        photos=int(body["photos"]),
        surroundings=_surroundings(body["surroundings"]) if body.get("surroundings") else None,
        glass_modulation=_positive(body.get("glass_modulation")),
        shade=_shade(body["shade"]) if body.get("shade") else None,
        rest=_ground_light(body["rest"]) if body.get("rest") else None,
        veil_down=_veil_down(body["veil_down"]) if body.get("veil_down") else None,
    )


def _shade(body: dict[str, Any]) -> WaterShade:
    reach = body["reach_mm"]
    return WaterShade(
        dark=_finite(body["dark"]),
        bright=_finite(body["bright"]),
        reach_mm=None if reach is None else _finite(reach),
    )


def _ground_light(body: dict[str, Any]) -> GroundLight:
    luminance = _finite(body["luminance"])
    if not luminance > 0:
        raise ValueError("the luminance of its rest must be above 0")
    return GroundLight(hue=_finite(body["hue"]), luminance=luminance)


def _veil_down(body: dict[str, Any]) -> VeilDown:
    y_mm, light = (tuple(_finite(one) for one in body[name]) for name in ("y_mm", "light"))
    fine_from, bands = int(body["fine_from"]), 2 * BANDS - MOVED_BANDS
    if (len(y_mm), len(light), fine_from) != (bands, bands, BANDS):
        raise ValueError(f"the veil over its bars must have {bands} places and as many lights")
    return VeilDown(y_mm=y_mm, light=light, fine_from=fine_from)


def _positive(value: Any) -> float | None:  # noqa: ANN401 - whatever JSON holds
    if value is None:
        return None
    if not _finite(value) > 0:
        raise ValueError("the modulation of its glass must be above 0")
    return _finite(value)


def _surroundings(body: dict[str, Any]) -> Surroundings:
    span_mm, light_ratio, loo = (
        _finite(body[name]) for name in ("span_mm", "light_ratio", "loo_delta_e00")
    )
    if not span_mm > 0:
        raise ValueError("its picture must span more than 0 mm")
    paper = tuple(None if one is None else _finite(one) for one in body["paper"])
    balance, saturation = body.get("balance"), body.get("saturation")
    red, blue = (0.0, 0.0) if balance is None else (_finite(one) for one in balance)
    return Surroundings(
        span_mm=span_mm,
        light_ratio=light_ratio,
        paper=paper,
        loo_delta_e00=loo,
        balance=None if balance is None else (red, blue),
        jar=_jar_light(body["jar"]) if body.get("jar") else None,
        saturation=None if saturation is None else _finite(saturation),
    )


def _jar_light(body: dict[str, Any]) -> JarLight:
    *places, glass = (
        np.array([_finite(one) for one in row]) for row in (*body["places"], body["glass"])
    )
    if any(row.shape != (3,) or not row.min() > 0 for row in (*places, glass)):
        raise ValueError("the light around its jar must be given by 3 numbers above 0 each")
    return JarLight(places=tuple(rgb_tuple(row) for row in places), glass=rgb_tuple(glass))


def _field(body: dict[str, Any]) -> FieldReference:
    ratio, std = (np.array(body[name], dtype=float) for name in ("ratio", "relative_std"))
    shift_mm, stretch = (float(body["alignment"][name]) for name in ("shift_mm", "stretch"))
    finite = all(np.isfinite(part).all() for part in (ratio, std, shift_mm, stretch))
    possible = finite and ratio.min() > 0 <= std.min() and stretch > 0
    if ratio.shape != (BANDS, 3) or std.shape != (3,) or not possible:
        raise ValueError(f"its ratios must be {BANDS} times 3 finite numbers above 0")
    return FieldReference(
        ratio=tuple(rgb_tuple(band) for band in ratio),
        relative_std=rgb_tuple(std),
        alignment=Alignment(shift_mm=shift_mm, stretch=stretch),
        stretch=_finite(body.get("stretch", stretch)),
        levels=_levels(body["levels"]) if body.get("levels") else None,
        veil=rgb_tuple(np.array([_finite(one) for one in body.get("veil", (0.0,) * 3)])),
    )


def _levels(body: dict[str, Any]) -> BarLevels:
    light = {name: np.array(body[name], dtype=float) for name in LEVELS}
    if any(
        one.shape != (3,) or not (0 < one.min() <= one.max() < np.inf) for one in light.values()
    ):
        raise ValueError("the light on its bars must be given by 3 finite numbers above 0 each")
    across, down = (_finite(share) for share in body["dry_lean"])
    wet = body.get("wet_lean")
    return BarLevels(
        **{name: rgb_tuple(one) for name, one in light.items()},
        dry_lean=(across, down),
        wet_lean=None if wet is None else _finite(wet),
    )


def _finite(value: Any) -> float:  # noqa: ANN401 - whatever JSON holds
    number = float(value)
    if not np.isfinite(number):
        raise ValueError(f"{number} is not finite")
    return number
