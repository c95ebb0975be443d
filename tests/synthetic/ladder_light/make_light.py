"""Traces the light of all planned tubs; run it where there is a GPU, once.

Run as ``python -m tests.synthetic.ladder_light.make_light FOLDER [NAMES]``; it writes design.npz,
gain.npz, bath_gain.npz, colour.npz, clear.npz, tinted.npz and judge.npz there, which are committed
beside this file.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tests.synthetic.ladder_light.photo_plan import (
    judged_photos,
    repeated_photos,
    series_photos,
    strange_photos,
)
from tests.synthetic.ladder_light.scenes import (
    bath_gain_scenes,
    clear_scenes,
    colour_scenes,
    design_scenes,
    gain_scenes,
    scene_of,
    tinted_scenes,
)
from tests.synthetic.ladder_light.tub import build, trace

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.model import FloatArray
    from tests.synthetic.ladder_light.photo_plan import PhotoPlan
    from tests.synthetic.ladder_light.scenes import Tub, Water

DESIGNS, GAIN_TUBS, COLOUR_TUBS, CLEAR_TUBS, TINTED_TUBS = 2400, 300, 175, 240, 330
BATH_GAIN_TUBS = 60
READINGS, SERIES, REPEATED, VIEWS, STRANGE_READINGS = 420, 30, 4, 20, 250
PATHS, GAIN_PATHS, COLOUR_PATHS, BATH_GAIN_PATHS = 131072, 262144, 262144, 16384


def all_photos() -> list[PhotoPlan]:
    """Return all photos to judge by."""
    return [
        *judged_photos(READINGS),
        *series_photos(SERIES),
        *repeated_photos(REPEATED, VIEWS),
        *strange_photos(STRANGE_READINGS),
    ]


def lit(means: FloatArray, tubs: list[Tub]) -> tuple[FloatArray, FloatArray]:
    """Return radiance and its standard error in each tub's own light, (scenes, depths, patterns).

    In units of the radiance of a dry white of the same reflectance 1 on the plate.
    """
    weights = np.array([tub.light for tub in tubs])
    lamps = np.array([tub.lamps for tub in tubs])
    facing = np.concatenate([np.full((len(tubs), 1), 0.5), np.maximum(lamps[:, :, 1], 0)], axis=1)
    dry = (weights * facing).sum(axis=1) / np.pi
    seen = np.einsum("sdbpl,sl->sdbp", means, weights) / dry[:, None, None, None]
    return seen.mean(axis=2), seen.std(axis=2, ddof=1) / np.sqrt(seen.shape[2])


def traced(
    program: Path, pairs: list[tuple[Tub, Water]], channels: range, paths: int
) -> FloatArray:
    """Return radiances and their errors, shape (2, tubs, channels, depths, patterns)."""
    scenes = [scene_of(tub, water, channel) for tub, water in pairs for channel in channels]
    tubs = [tub for tub, _ in pairs for _ in channels]
    both = np.stack(lit(trace(program, scenes, paths), tubs))
    return both.reshape(2, len(pairs), len(channels), *both.shape[2:])


def main(
    folder: Path,
    names: Sequence[str] = (),
    *,
    gpu: bool = True,
    share: float = 1.0,
) -> None:
    """Trace everything, or what is named."""
    shots = [ladder for plan in all_photos() for ladder in plan.ladders]
    judged = [(shot.tub, shot.water) for shot in shots]
    with tempfile.TemporaryDirectory() as name:
        program = build(Path(name), gpu=gpu)
        for what, pairs, channels, paths in (
            ("design", design_scenes(DESIGNS), range(1), PATHS),
            ("gain", gain_scenes(GAIN_TUBS), range(1), GAIN_PATHS),
            ("bath_gain", bath_gain_scenes(BATH_GAIN_TUBS), range(1), BATH_GAIN_PATHS),
            ("colour", colour_scenes(COLOUR_TUBS), range(3), COLOUR_PATHS),
            ("clear", clear_scenes(CLEAR_TUBS), range(3), COLOUR_PATHS),
            ("tinted", tinted_scenes(TINTED_TUBS), range(3), COLOUR_PATHS),
            ("judge", judged, range(3), PATHS),
        ):
            if names and what not in names:
                continue
            some = pairs[: max(int(len(pairs) * share), 2)]
            light, error = traced(program, some, channels, paths)
            np.savez_compressed(
                folder / f"{what}.npz",
                light=light.astype(np.float32),
                error=error.astype(np.float16),
            )
            print(what, light.shape, flush=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2:])
