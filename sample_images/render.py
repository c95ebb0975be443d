"""Renders the sample images and their truth table.

Run ``python -m sample_images.render``; photographs that exist are kept.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sample_images.bone import skull
from sample_images.camera import garage_camera
from sample_images.compose import Bench, Samples, render_bench, render_linear
from sample_images.dressing import bench_props, foam
from sample_images.scene import Light, Stand, View, use_threads
from sample_images.story import TAP_WATER, Scene, season
from sample_images.truth import bone_truth, write_measured, write_truth
from tests.synthetic.camera import expose, jpeg

if TYPE_CHECKING:
    from sample_images.scene import Vector

FOLDER = Path(__file__).parent
VIEW = View(
    origin=(118.0, 75.0, 700.0), target=(200.0, 101.0, 0.0), fov_deg=35.0, size_px=(2048, 1152)
)
EXPOSURE = 1.8
BONE_AT: Vector = (328.0, 158.0, 35.0)
FOAM_Y_MM = (96.0, 125.0)
BULB = Light(
    room=(0.05, 0.052, 0.056),
    lamp=(4.2, 3.2, 2.2),
    lamp_centre=(-420.0, -120.0, 330.0),
    lamp_half_mm=(150.0, 150.0),
)


def stand(scene: Scene) -> Stand:
    """Return what stands on the bench in a photograph."""
    props = bench_props()
    if scene.bone is not None:
        props |= skull(scene.bone, BONE_AT)
    if scene.foam:
        props |= foam(*FOAM_Y_MM)
    return Stand(
        water=scene.water,
        tag=scene.tub,
        light=BULB if scene.badly_lit else Light(),
        level_y_mm=FOAM_Y_MM[1] if scene.foam else 88.0,
        sheet=scene.sheet,
        extras=props,
    )


def bench_of(scene: Scene, usual: Bench) -> Bench:
    """Return the bench a photograph builds on: its own when the light or the sheet differs."""
    if scene.sheet and not scene.badly_lit:
        return usual
    own = replace(stand(replace(scene, bone=None)), water=TAP_WATER)
    return Bench(light=render_bench(own, VIEW, Samples(), seed=8), stand=own)


def render(scene: Scene, usual: Bench, number: int) -> None:
    """Render one photograph into the folder."""
    samples = Samples(jar=96) if scene.badly_lit else Samples()
    light = render_linear(stand(scene), VIEW, bench_of(scene, usual), samples, 1000 * number)
    camera = garage_camera()
    picture = expose(light.astype(np.float32), camera, EXPOSURE * scene.exposure, number)
    (FOLDER / scene.file).write_bytes(jpeg(picture, camera, scene.taken_at))


def main(limit: int) -> None:
    """Render up to the given number of missing photographs, then write the tables."""
    use_threads(1)
    scenes = season()
    missing = [(n, scene) for n, scene in enumerate(scenes) if not (FOLDER / scene.file).exists()]
    if missing:
        clear = stand(scenes[0])
        usual = Bench(light=render_bench(clear, VIEW, Samples(), seed=7), stand=clear)
    for number, scene in missing[:limit]:
        render(scene, usual, number)
    bones = [None if scene.bone is None else bone_truth(stand(scene), VIEW) for scene in scenes]
    write_truth(FOLDER / "truth.csv", scenes, bones)
    write_measured(FOLDER / "sheet_measured.cgats")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
