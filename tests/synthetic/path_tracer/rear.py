"""The stand lit from behind: the sheet itself shines, as with an opal panel or a screen behind it.

``python -m tests.synthetic.path_tracer.rear OUT.npz`` renders `PART`; it takes a graphics processor
(`TRACER_CUDA=sm_90`, its architecture) two minutes. The print is taken to let through what it
reflects, and the panel to be even; the room has no lamp.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.synthetic.path_tracer.compose import texture
from tests.synthetic.path_tracer.series import DIM, MORE_WATERS, WATERS, Part, cases_of, store
from tests.synthetic.path_tracer.stand import (
    FAR_GRID,
    NEAR_GRID,
    Light,
    Rendered,
    combined_light,
    irradiance,
    scattered,
    scene,
    smooth,
)
from tests.synthetic.path_tracer.tracer import FloatArray, Scene, Texture

PART = Part(
    lights={"rear": Light(lamps=(), room=DIM)},
    waters=(*MORE_WATERS, *WATERS, *MORE_WATERS),
    brown_albedo=(0.4, 0.9),
    seed=900_000,
)
RENDERED = Path(__file__).parent.parent / "water_lamps" / "rear.npz"
RETURNS = 2  # times that light of the sheet is followed back to it from jar and room
CLEAR_PATHS = 4  # times as many in clear water, which all readings rest on


def render(stand: Scene, printed: Texture, effort: int, seed: int) -> Rendered:
    """Trace a stand whose sheet sends out light of 1, and what comes back to it."""
    far: FloatArray = np.ones((*FAR_GRID.shape, 3))
    near: FloatArray = np.ones((*NEAR_GRID.shape, 3))
    for turn in range(RETURNS):
        light, begin = combined_light(far, near), seed + 3 * turn
        far = 1 + irradiance(stand, printed, FAR_GRID, 3000 * effort, begin, light)
        beside = irradiance(stand, printed, NEAR_GRID, 10000 * effort, begin + 1, light)
        near = 1 + smooth(beside, 1.0)
    seen = scattered(stand, printed, 4000 * effort, seed + 7, combined_light(far, near))
    return Rendered(far=far.astype(np.float32), near=near.astype(np.float32), scattered=seen)


def main(out: Path) -> None:
    """Render all waters into one file."""
    printed = texture()
    arrays: dict[str, NDArray[np.float16]] = {}
    for case in cases_of(PART):
        stand = scene(PART.lights[case.light], case.medium)
        effort = 1 if case.number else CLEAR_PATHS
        rendered = render(stand, printed, effort, PART.seed + 10 * case.number)
        arrays.update(store(rendered, case.name))
        print(case.name, flush=True)
    np.savez_compressed(out, allow_pickle=False, **arrays)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
