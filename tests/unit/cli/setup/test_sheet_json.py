"""What a renderer is told of sheet and ladder lies where it can only lie."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import pytest

from greasecheck.cli.setup.sheet_json import ladder_json, sheet_json
from greasecheck.reference import known_sheets
from greasecheck.reference.ladder.plate import dip_ladder
from greasecheck.reference.patches.values import nominal_values

NEWEST = known_sheets()[-1]
Box = list[float]


def shown() -> dict[str, Any]:
    return sheet_json(NEWEST, nominal_values(NEWEST))


def holds(outer: Box, inner: Box) -> bool:
    """Return whether one box (x, y, width, height) lies within another."""
    return all(
        outer[axis] <= inner[axis]
        and inner[axis] + inner[axis + 2] <= outer[axis] + outer[axis + 2]
        for axis in (0, 1)
    )


def apart(one: Box, other: Box) -> bool:
    """Return whether two boxes have no area in common."""
    return any(
        first[axis] + first[axis + 2] <= second[axis]
        for axis in (0, 1)
        for first, second in ((one, other), (other, one))
    )


def test_wet_bars_lie_behind_the_jar_and_dry_ones_beside_it() -> None:
    told = shown()
    jar, sight = told["jar_zone_mm"], told["sight"]
    names = ("wet_fine_mm", "wet_coarse_mm", "dry_fine_mm", "dry_coarse_mm", "glass_mm")
    for name in names:
        assert holds(jar, sight[name]) is not name.startswith("dry"), name
    for one, other in combinations(names, 2):
        assert apart(sight[one], sight[other]), (one, other)
    line = told["fill_line_y_mm"]
    for name in ("wet_fine_mm", "wet_coarse_mm"):
        assert sight[name][1] >= line
    for width in ("fine", "coarse"):
        bar_mm = sight[f"{width}_bar_mm"]
        assert (sight[f"wet_{width}_mm"][2] / bar_mm) % 1 == pytest.approx(0)
    assert sight["fine_bar_mm"] < sight["coarse_bar_mm"]


def test_parts_of_the_sheet_lie_on_it_and_not_on_each_other() -> None:
    told = shown()
    sheet = [0.0, 0.0, told["width_mm"], told["height_mm"]]
    patches = [one["box_mm"] for one in told["patches"] if one["box_mm"]]
    markers = [one["box_mm"] for one in told["markers"]]
    cells = told["ladder"]["cells"]
    for box in (*patches, *markers, told["tag_slot_mm"], *(one["box_mm"] for one in cells)):
        assert holds(sheet, box)
    assert holds(told["tag_slot_mm"], told["tag_marker_mm"])
    assert not holds(told["tag_marker_mm"], told["tag_slot_mm"])
    for one, other in combinations([*patches, *markers], 2):
        assert apart(one, other)
    for cell in cells:
        assert holds(cell["box_mm"], cell["fine_mm"])
        assert holds(cell["box_mm"], cell["coarse_mm"])
        assert apart(cell["fine_mm"], cell["coarse_mm"])


def test_dry_bars_of_a_ladder_stand_above_its_waterline_and_wet_ones_hang_below() -> None:
    told = ladder_json(dip_ladder())
    stripes, waterline = told["stripes"], told["waterline_y_mm"]
    assert isinstance(stripes, dict)
    for width in ("fine", "coarse"):
        dry, wet = stripes[f"dry_{width}_mm"], stripes[f"{width}_mm"]
        assert dry[1] + dry[3] <= waterline
        assert wet[1] + wet[3] > waterline
    boxes = [stripes[name] for name in ("fine_mm", "coarse_mm", "dry_fine_mm", "dry_coarse_mm")]
    for one, other in combinations(boxes, 2):
        assert apart(one, other)
