"""What else stands on the bench: the wooden table, the dark rest for the bone, foam."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.ndimage import gaussian_filter

from sample_images.mesh import mesh
from sample_images.scene import (
    INNER_WIDTH_MM,
    JAR_CENTRE_X_MM,
    JAR_GAP_MM,
    PATH_MM,
    TABLE_Y_MM,
    WALL_MM,
    Spec,
    bitmap,
    diffuse,
    mitsuba,
    quad,
    world,
)

if TYPE_CHECKING:
    import numpy.typing as npt

FELT = (0.030, 0.030, 0.032)
REST_TOP_Y_MM, LEDGE_Y_MM = 40.0, 158.0
REST_CENTRE_X_MM = 338.0
WOOD_RGB = (0.36, 0.27, 0.185)
FOAM_RGB = (0.90, 0.89, 0.87)
BUBBLES = 1500


def bench_props() -> Spec:
    """Return the table and the dark rest: an upright board with a ledge, both in felt."""
    height = (TABLE_Y_MM - REST_TOP_Y_MM) / 2
    ledge = (TABLE_Y_MM - LEDGE_Y_MM) / 2
    block = mitsuba().ScalarTransform4f().translate(
        world((328.0, LEDGE_Y_MM + ledge, 36.0))
    ).scale([60.0, ledge, 36.0])  # fmt: skip
    return {
        "table": _wood(),
        "rest": quad((REST_CENTRE_X_MM, REST_TOP_Y_MM + height, -0.5), (67.0, 0, 0),
                     (0, -height, 0), bsdf=diffuse(FELT)),
        "ledge": {"type": "cube", "to_world": block, "bsdf": diffuse(FELT)},
    }  # fmt: skip


def _wood() -> Spec:
    rng = np.random.default_rng(5)
    noise = rng.standard_normal((1500, 600)).astype(np.float32)
    grain = gaussian_filter(noise, (1.2, 60)) / 0.012
    broad = gaussian_filter(noise, (14, 90)) / 0.0038
    tone = np.exp(0.07 * np.clip(grain, -3, 3) + 0.05 * np.clip(broad, -3, 3))
    tone[::75] *= 0.55  # gaps between the boards
    raster = np.clip(tone[..., None] * np.array(WOOD_RGB), 0, 0.9).astype(np.float32)
    surface = diffuse(bitmap(raster))
    return quad((200, TABLE_Y_MM, 600.0), (900, 0, 0), (0, 0, 604.0), bsdf=surface)


def foam(top_y_mm: float, bottom_y_mm: float) -> Spec:
    """Return foam that fills the jar between two heights of the sheet [mm]."""
    rng = np.random.default_rng(3)
    radii = rng.gamma(5.0, 0.42, BUBBLES)
    half, back = INNER_WIDTH_MM / 2, JAR_GAP_MM + WALL_MM
    x = JAR_CENTRE_X_MM + rng.uniform(-1, 1, BUBBLES) * (half - 0.1 - radii)
    z = back + 0.1 + radii + rng.uniform(0, 1, BUBBLES) * (PATH_MM - 0.2 - 2 * radii)
    front = rng.random(BUBBLES) < 0.6  # most of what is seen leans on the front wall
    z = np.where(front, back + PATH_MM - 0.1 - radii - rng.gamma(1.5, 1.5, BUBBLES), z)
    y = rng.uniform(top_y_mm, bottom_y_mm, BUBBLES) + 2.5 * np.sin(x / 9.0)
    centres = np.stack([x, -y, z], axis=1)
    vertices, faces, normals = _bubbles(centres, radii)
    return {"foam": mesh("foam", vertices, normals, faces, diffuse(FOAM_RGB))}


def _bubbles(centres: npt.NDArray[Any], radii: npt.NDArray[Any]) -> tuple[npt.NDArray[Any], ...]:
    rings, sectors = 7, 12
    theta, phi = np.meshgrid(
        np.linspace(0, np.pi, rings), np.linspace(0, 2 * np.pi, sectors), indexing="ij"
    )
    unit = np.stack([np.sin(theta) * np.cos(phi), np.cos(theta), np.sin(theta) * np.sin(phi)], -1)
    unit = unit.reshape(-1, 3)
    corner = np.arange((rings - 1) * sectors).reshape(rings - 1, sectors)[:, :-1].ravel()
    one = np.concatenate(
        [np.stack([corner, corner + 1, corner + sectors], 1),
         np.stack([corner + 1, corner + sectors + 1, corner + sectors], 1)]
    )  # fmt: skip
    vertices = centres[:, None] + radii[:, None, None] * unit
    faces = one[None] + (np.arange(len(centres)) * len(unit))[:, None, None]
    normals = np.tile(unit, (len(centres), 1))
    return vertices.reshape(-1, 3), faces.reshape(-1, 3), normals
