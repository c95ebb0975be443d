"""What a clear-water reference keeps of light and distance comes back from its file, or is told."""

import json
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest

from greasecheck.errors import DataFileError
from greasecheck.measure.sight.jar_light import JarLight
from greasecheck.measure.sight.shade import WaterShade
from greasecheck.measure.sight.veil_edge import VeilDown
from greasecheck.measure.water.reference import BANDS, ClearWater, FieldReference, unknown_jar
from greasecheck.measure.water.reference_file import clear_water_from_json, clear_water_to_json
from greasecheck.measure.water.surroundings import Surroundings
from greasecheck.model.bone import GroundLight
from tests.synthetic.bar_pairs import CLEAR, HERE

FIELD = FieldReference(
    ratio=((0.9, 0.9, 0.9),) * BANDS,
    relative_std=(0.001, 0.001, 0.001),
    alignment=HERE,
    stretch=1.024,
    levels=CLEAR.levels,
)
REFERENCE = ClearWater(
    fine=FIELD,
    coarse=FIELD,
    path_mm=60.0,
    sheet_version=1,
    taken_at=datetime(2026, 1, 10, 9, tzinfo=UTC),
    camera="drawn",
    photos=1,
    surroundings=Surroundings(
        span_mm=438.0, light_ratio=-0.02, paper=(0.01, None, -0.02), loo_delta_e00=0.5
    ),
)

LOW_BARS = replace(
    REFERENCE,
    sheet_version=2,
    fine=replace(FIELD, veil=(0.04, 0.041, 0.042), levels=replace(CLEAR.levels, wet_lean=0.02)),
    surroundings=Surroundings(
        span_mm=438.0,
        light_ratio=-0.02,
        paper=(0.01, None),
        loo_delta_e00=0.5,
        balance=(0.02, -0.1),
        jar=JarLight(places=((0.9, 0.91, 0.92), (1.1, 1.0, 1.0)), glass=(0.5, 0.51, 0.52)),
        saturation=0.94,
    ),
    glass_modulation=0.98,
    shade=WaterShade(dark=0.3, bright=1.4, reach_mm=34.0),
    rest=GroundLight(hue=-0.04, luminance=2.9),
    veil_down=VeilDown(y_mm=tuple(map(float, range(13))), light=(0.02,) * 13, fine_from=7),
)


def body(clear: ClearWater = REFERENCE) -> dict[str, Any]:
    read: dict[str, Any] = json.loads(clear_water_to_json(clear))
    return read


@pytest.mark.parametrize(
    "clear", [REFERENCE, LOW_BARS, unknown_jar(60.0, 1)], ids=["made", "low bars", "stand-in"]
)
def test_what_was_written_is_read(clear: ClearWater) -> None:
    assert clear_water_from_json(clear_water_to_json(clear), "clear.json") == clear


def test_a_reference_that_kept_no_light_can_be_read() -> None:
    old = body()
    del old["surroundings"], old["fine"]["levels"], old["fine"]["stretch"]
    read = clear_water_from_json(json.dumps(old), "old.json")
    assert read.surroundings is None
    assert read.fine.levels is None
    assert read.fine.stretch == HERE.stretch


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("kind",), "turbidity"),
        (("schema",), 2),
        (("path_mm",), 0.0),
        (("path_mm",), "inf"),
        (("taken_at",), "2026-01-10T09:00:00"),  # no zone
        (("taken_at",), "yesterday"),
        (("photos",), float("inf")),
        (("surroundings", "span_mm"), 0.0),
        (("surroundings", "span_mm"), "nan"),
        (("surroundings", "light_ratio"), "inf"),
        (("surroundings", "paper"), ["nan"]),
        (("surroundings", "balance"), [0.1]),
        (("surroundings", "jar", "glass"), [0.5, 0.5, 0.0]),
        (("surroundings", "jar", "places"), [[1.0, 1.0]]),
        (("fine", "ratio"), [[0.9, 0.9, 0.9]] * (BANDS - 1)),
        (("fine", "ratio"), [[0.9, 0.9, 0.0]] * BANDS),
        (("fine", "ratio"), [[0.9, 0.9, "nan"]] * BANDS),
        (("fine", "ratio"), [[0.9, 0.9, "inf"]] * BANDS),
        (("fine", "relative_std"), [0.001, 0.001]),
        (("fine", "relative_std"), [0.001, 0.001, "inf"]),
        (("fine", "relative_std"), [0.001, 0.001, -0.001]),
        (("fine", "alignment", "stretch"), 0.0),
        (("fine", "stretch"), "nan"),
        (("fine", "levels", "dry_white"), [1.0, 1.0]),
        (("fine", "levels", "white_kept"), [1.0, 0.0, 1.0]),
        (("fine", "levels", "wet_lean"), "nan"),
        (("fine", "veil"), [0.1, "nan", 0.1]),
        (("coarse", "levels", "dry_black"), [1.0, 1.0, "inf"]),
        (("coarse", "levels", "dry_lean"), [0.0, "nan"]),
        (("coarse", "levels", "dry_lean"), [0.0]),
        (("glass_modulation",), 0.0),
        (("glass_modulation",), "nan"),
        (("shade", "dark"), "inf"),
        (("shade", "reach_mm"), "nan"),
        (("rest", "luminance"), 0.0),
        (("rest", "hue"), "nan"),
        (("veil_down", "light"), [0.02] * 12),
        (("veil_down", "light"), [0.02] * 12 + ["inf"]),
        (("veil_down", "fine_from"), 13),
    ],
)
def test_a_broken_value_is_told_with_the_files_name(path: tuple[str, ...], value: object) -> None:
    broken = body(LOW_BARS)
    part = broken
    for name in path[:-1]:
        part = part[name]
    part[path[-1]] = value
    with pytest.raises(DataFileError, match=r"broken\.json"):
        clear_water_from_json(json.dumps(broken), "broken.json")


def test_the_lamp_stands_as_high_as_its_shadow_says() -> None:
    assert LOW_BARS.lamp_elevation_deg == pytest.approx(38.4, abs=0.5)
    assert REFERENCE.lamp_elevation_deg is None
