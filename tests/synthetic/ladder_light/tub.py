"""Runs the path tracer of a ladder in a tub, on the GPU or the processor."""

from __future__ import annotations

import subprocess
import tempfile
from dataclasses import astuple, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.model import FloatArray

SOURCE = Path(__file__).with_name("tub.cu")
DEPTHS, LAMPS, BATCHES, PATTERNS = 14, 4, 8, 4


@dataclass(frozen=True, slots=True)
class TubScene:
    """A tub, its water, the line of sight and its lamps; fields as in tub.cu, in its order."""

    attenuation_per_mm: float
    albedo: float
    g_forward: float
    g_backward: float
    backward_share: float
    wall: float
    width_mm: float
    length_mm: float
    depth_mm: float
    rim_mm: float
    white: float
    black: float
    dry_black: float
    sight_cos: float
    azimuth_rad: float
    points_mm: tuple[float, ...]
    lamps: tuple[tuple[float, float, float], ...]

    def packed(self) -> FloatArray:
        """Return the scene as the program reads it, shape (41,)."""
        return np.concatenate([np.ravel(part) for part in astuple(self)])


def build(folder: Path, *, gpu: bool = False) -> Path:
    """Compile the program into a folder."""
    program = folder / "tub"
    plain = ["g++", "-O2", "-std=c++17", "-x", "c++"]
    compiler = ["nvcc", "-O3", "-std=c++17", "-arch=sm_90"] if gpu else plain
    subprocess.run([*compiler, str(SOURCE), "-o", str(program)], check=True)
    return program


def trace(program: Path, scenes: Sequence[TubScene], paths: int) -> FloatArray:
    """Return radiances towards the camera just under the surface.

    Parameters
    ----------
    program : pathlib.Path
        From `build`.
    scenes : sequence of TubScene
        The tubs.
    paths : int
        Paths for each point.

    Returns
    -------
    ndarray, shape (scenes, DEPTHS, BATCHES, PATTERNS, 1 + LAMPS)
        For the white and black stripe of 3 mm, then of 8 mm; by the sky, then by each lamp.
    """
    with tempfile.TemporaryDirectory() as name:
        scene_file, out = Path(name) / "scenes", Path(name) / "out"
        packed = np.stack([scene.packed() for scene in scenes]).astype(np.float32)
        scene_file.write_bytes(packed.tobytes())
        subprocess.run([str(program), str(scene_file), str(out), str(paths)], check=True)
        shape = (len(scenes), DEPTHS, BATCHES, PATTERNS, 1 + LAMPS)
        return np.fromfile(out, dtype=np.float32).reshape(shape).astype(np.float64)
