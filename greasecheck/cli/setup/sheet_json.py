"""The sheet's geometry and patch values as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.reference.tags import TAG_DICTIONARY

if TYPE_CHECKING:
    from greasecheck.model import Box, ContrastLadder, PatchValues, SheetGeometry, Sight
    from greasecheck.reference.ladder.plate import DipLadder


OWN_NUMBERS = range(10, 50)  # tubs whose tag's marker has their number; tag_ids.csv has all


def sheet_json(geometry: SheetGeometry, values: PatchValues) -> dict[str, object]:
    """Return the answer of ``sheet show --json``; a box is x, y, width, height [mm].

    A part that the design does not have is null.
    """
    tag, jar, ruler, rest = geometry.tag, geometry.jar, geometry.ruler, geometry.rest
    return {
        "version": geometry.version,
        "width_mm": geometry.width_mm,
        "height_mm": geometry.height_mm,
        "origin": "upper left corner of the printed area, x to the right, y down",
        "dictionary": geometry.dictionary,
        "markers": [
            {"id": marker.id, "corner": marker.corner, "box_mm": _box(marker.box)}
            for marker in geometry.markers
        ],
        "tag_slot_mm": tag and _box(tag.slot),
        "tag_marker_mm": tag and _box(tag.marker),
        "tag_ids": tag and {"first": OWN_NUMBERS[0], "last": OWN_NUMBERS[-1]},
        "tag_dictionary": tag and TAG_DICTIONARY,
        "jar_zone_mm": jar and _box(jar.zone),
        "jar_outline_mm": jar and jar.outline and _box(jar.outline),
        "fill_line_y_mm": jar and jar.fill_line_y_mm,
        "sight": geometry.bars and _sight(geometry.bars),
        "ladder": geometry.ladder and _ladder(geometry.ladder),
        "ruler_start_mm": ruler and list(ruler.start_mm),
        "ruler_length_mm": ruler and ruler.length_mm,
        "rest_zone_mm": rest and _box(rest.zone),
        "paper_windows_mm": [_box(window) for window in geometry.paper_windows],
        "measured": values.measured,
        "values_source": values.source,
        "white": "D65, 2 degrees",
        "patches": [_patch(name, geometry, values) for name in values.names],
    }


def ladder_json(ladder: DipLadder) -> dict[str, object]:
    """Return the geometry of a dip ladder; a box is x, y, width, height [mm]."""
    stripes, rungs = ladder.stripes, ladder.rungs
    return {
        "version": ladder.version,
        "width_mm": ladder.width_mm,
        "height_mm": ladder.height_mm,
        "origin": "upper left corner of the plate, x to the right, y down",
        "dictionary": ladder.dictionary,
        "markers": [{"id": number, "box_mm": _box(box)} for number, box in ladder.markers.items()],
        "tag_marker_mm": _box(ladder.tag_marker),
        "waterline_y_mm": ladder.waterline_mm,
        "body_mm": _box(ladder.body),
        "black_mm": _box(ladder.black),
        "wings_mm": [_box(box) for box in ladder.wings],
        "stripes": {
            "fine_bar_mm": stripes.fine_bar_mm,
            "coarse_bar_mm": stripes.coarse_bar_mm,
            "fine_mm": _box(stripes.fine),
            "coarse_mm": _box(stripes.coarse),
            "dry_fine_mm": _box(stripes.dry_fine),
            "dry_coarse_mm": _box(stripes.dry_coarse),
            "first": "white",
        },
        "rungs_mm": [_box(box) for box in rungs.columns],
        "rung_step_mm": rungs.step_mm,
        "greys": [
            {"name": name, "reflectance": grey.reflectance, "boxes_mm": [*map(_box, grey.boxes)]}
            for name, grey in ladder.greys.items()
        ],
    }


def _ladder(ladder: ContrastLadder) -> dict[str, object]:
    """Give the contrast ladder; the greys of a cell are the patches NAME-light and NAME-dark."""
    return {
        "fine_bar_mm": ladder.fine_bar_mm,
        "coarse_bar_mm": ladder.coarse_bar_mm,
        "cells": [
            {
                "name": cell.name,
                "box_mm": _box(cell.box),
                "fine_mm": _box(cell.fine),
                "coarse_mm": _box(cell.coarse),
            }
            for cell in ladder.cells
        ],
    }


def _sight(sight: Sight) -> dict[str, object]:
    return {
        "fine_bar_mm": sight.fine_bar_mm,
        "coarse_bar_mm": sight.coarse_bar_mm,
        "wet_fine_mm": _box(sight.wet_fine),
        "wet_coarse_mm": _box(sight.wet_coarse),
        "dry_fine_mm": _box(sight.dry_fine),
        "dry_coarse_mm": _box(sight.dry_coarse),
        "glass_mm": sight.glass and _box(sight.glass),
    }


def _patch(name: str, geometry: SheetGeometry, values: PatchValues) -> dict[str, object]:
    """Give a patch; bare paper and ink have no box of their own."""
    place = values.names.index(name)
    box = geometry.patches.get(name)
    return {
        "name": name,
        "box_mm": _box(box) if box else None,
        "xyz": values.xyz[place].tolist(),
        "print_rgb": None if values.rgb is None else values.rgb[place].tolist(),
    }


def _box(box: Box) -> list[float]:
    return [box.x_mm, box.y_mm, box.width_mm, box.height_mm]
