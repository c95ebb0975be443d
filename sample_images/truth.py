"""What is true of the rendered bone and of the printed sheet, and the tables that say so."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from greasecheck.reference import known_sheets
from greasecheck.reference.patches.values import nominal_values
from sample_images.bone import CLEAN_RGB, GLOSS, GREASY_RGB, TOOTH_RGB
from sample_images.compose import evenness, guide, rest_crop
from sample_images.dressing import FELT
from sample_images.sheet_texture import printed_reflectance

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import numpy.typing as npt

    from sample_images.scene import Stand, View
    from sample_images.story import Scene

    Array = npt.NDArray[Any]

XYZ_OF_LINEAR_RGB = np.array(  # IEC 61966-2-1, D65, 2 degrees
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
)
CX, CZ = 1.2985, 1.1335  # ASTM E313, D65, 2 degrees
GUIDE_SEED = 77
HEADER = {
    "title": "sample images: a season of degreasing that never was",
    "source": "sample_images/render.py, volumetric path tracing with Mitsuba 3",
    "author": "the greasecheck founders",
    "year": "2026",
    "doi": "none: simulated",
    "licence": "MIT",
    "units": "extinction in 1/m of the true beam attenuation, absolute (the tap water has 0.3); "
    "albedo, g, yellow_patch_share in 1; yi_e313 for D65/2, of the matt bone without teeth, mean "
    "and median over its visible area; a patch is bone with over half of a greasy patch's grease",
}
COLUMNS = (
    "file", "tub", "taken_at", "extinction_r_per_m", "extinction_g_per_m", "extinction_b_per_m",
    "albedo", "g", "yi_e313", "yi_e313_median", "yellow_patch_share", "verdict", "note",
)  # fmt: skip
MEASURED = """CGATS.17
ORIGINATOR "the greasecheck founders"
DESCRIPTOR "the rendered sheet of sample_images: 0.03 + 0.85 x linear sRGB of the print codes"
CREATED "2026-11-25"
INSTRUMENTATION "none: the reflectances that the renderer was given"
KEYWORD "LICENCE"
LICENCE "MIT"
KEYWORD "VALUES"
VALUES "measured"
KEYWORD "WHITE_POINT"
WHITE_POINT "D65/2"
NUMBER_OF_FIELDS 4
BEGIN_DATA_FORMAT
SAMPLE_ID XYZ_X XYZ_Y XYZ_Z
END_DATA_FORMAT
NUMBER_OF_SETS {count}
BEGIN_DATA
{rows}
END_DATA
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneTruth:
    """Mean and median yellowness of the visible bone, and the share of its greasy patches."""

    yi_e313: float
    yi_e313_median: float
    yellow_patch_share: float


def yellowness(reflectance: Array) -> Array:
    """Return the yellowness index (ASTM E313, D65/2) of linear R, G, B reflectances."""
    x, y, z = np.moveaxis(reflectance @ XYZ_OF_LINEAR_RGB.T, -1, 0)
    index: Array = 100.0 * (CX * x - CZ * z) / y
    return index


def bone_truth(stand: Stand, view: View) -> BoneTruth:
    """Return what is true of the bone as the camera sees it, each pixel weighing the same."""
    seen = guide(stand, view, rest_crop(view), GUIDE_SEED)[..., :3]
    felt = seen.max(axis=-1) < 2 * max(FELT)
    matt = (seen - GLOSS) / (1 - GLOSS)
    tooth = np.abs(matt - TOOTH_RGB).max(axis=-1) < 0.01
    other = cv2.dilate((felt | tooth).astype(np.uint8), np.ones((5, 5), dtype=np.uint8)) > 0
    even = evenness(seen)[..., 0] > 0.5
    colours = matt[even & ~other].astype(float)
    index = yellowness(colours)
    return BoneTruth(
        yi_e313=float(np.mean(index)),
        yi_e313_median=float(np.median(index)),
        yellow_patch_share=float(np.mean(grease_amount(colours) > 0.5)),
    )


def grease_amount(reflectance: Array) -> Array:
    """Return the grease in a bone's colour, 0 for clean bone and 1 for a greasy patch."""
    clean, greasy = (np.log(rgb[2] / rgb[0]) for rgb in (CLEAN_RGB, GREASY_RGB))
    amount: Array = (np.log(reflectance[..., 2] / reflectance[..., 0]) - clean) / (greasy - clean)
    return amount


def write_measured(path: Path) -> None:
    """Write the patch values that a spectrophotometer would find on the rendered sheet."""
    nominal = nominal_values(known_sheets()[0])
    if nominal.rgb is None:
        raise ValueError("the nominal patch values lack their print codes")
    xyz = 100.0 * printed_reflectance(nominal.rgb) @ XYZ_OF_LINEAR_RGB.T
    rows = [f"{name} {x:.4f} {y:.4f} {z:.4f}"
            for name, (x, y, z) in zip(nominal.names, xyz, strict=True)]  # fmt: skip
    text = MEASURED.format(count=len(rows), rows="\n".join(rows))
    path.write_text(text, encoding="utf-8")


def write_truth(path: Path, scenes: Sequence[Scene], bones: Sequence[BoneTruth | None]) -> None:
    """Write the truth table of the sample images."""
    with path.open("w", encoding="utf-8", newline="") as file:
        file.writelines(f"# {key}: {value}\n" for key, value in HEADER.items())
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        writer.writerows(_row(scene, bone) for scene, bone in zip(scenes, bones, strict=True))


def _row(scene: Scene, bone: BoneTruth | None) -> list[object]:
    colour = [""] * 3
    if bone is not None:
        colour = [f"{bone.yi_e313:.1f}", f"{bone.yi_e313_median:.1f}",
                  f"{bone.yellow_patch_share:.3f}"]  # fmt: skip
    water = scene.water
    tub = "" if scene.tub is None else scene.tub
    return [scene.file, tub, scene.taken_at.isoformat(), *water.extinction_per_m, water.albedo,
            water.g, *colour, scene.verdict, scene.note]  # fmt: skip
