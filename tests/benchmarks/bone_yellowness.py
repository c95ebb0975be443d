"""How well photos give the yellowness of bone: lamps x cameras, with the card and without.

Run `python -m tests.benchmarks.bone_yellowness` (about a minute; `--quick` takes a few seconds).
Everything is simulated from spectra; those of inks and bones are invented.
"""

from __future__ import annotations

import argparse
import itertools
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.bone.look import BoneView, measure_bone
from greasecheck.measure.colorimetry import yellowness_e313
from greasecheck.measure.colour.model import fit_colour
from greasecheck.model import BoneState
from tests.synthetic.drawn_photo import Scene, bone_map, contrasty, draw, even, near_lamp
from tests.synthetic.spectral_simulation import (
    CAMERAS,
    LAMPS,
    XYZ_FROM_SRGB,
    bone_reflectances,
    camera_values,
    lamp_cast,
    printed_sheet,
    xyz_of,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from greasecheck.model import FloatArray, PatchValues

BONES = 24
CAST_LEFT = 0.1  # what an automatic white balance leaves of the lamp's colour: invented
PAPER_LEVEL = 0.75  # exposure of white before the camera's tone curve
PER_MM = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """Root-mean-square errors of the yellowness index under one lamp with one camera.

    `in_stds` holds each bone's error with measured patch values in stated standard errors.
    """

    camera: str
    lamp: str
    measured: float
    nominal: float
    in_stds: tuple[float, ...]
    perfect_balance: float
    auto_balance: float

    @property
    def within_two_std(self) -> float:
        """Return the share of bones whose error is at most two stated standard errors."""
        return float(np.mean(np.abs(self.in_stds) <= 2))


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeat:
    """Yellowness index of one bone under one lamp, photographed in several ways."""

    camera: str
    lamp: str
    true: float
    readings: tuple[float, ...]

    @property
    def std(self) -> float:
        """Standard deviation of the readings."""
        return float(np.std(self.readings, ddof=1))


@cache
def bones() -> FloatArray:
    """Return invented bones from white to greasy, shape (24, 61)."""
    many = bone_reflectances(400, seed=11)
    order = np.argsort(yellowness_e313(xyz_of(many)))
    return np.asarray(many[order[np.linspace(0, len(order) - 1, BONES).astype(int)]])


def accuracy(camera: str, lamp: str) -> Accuracy:
    """Photograph sheet and bones once, and read the bones with the card and without."""
    sheet = printed_sheet()
    measured, std = _with_card(camera, lamp, sheet.measured)
    return Accuracy(
        camera=camera,
        lamp=lamp,
        measured=_rms(measured),
        nominal=_rms(_with_card(camera, lamp, sheet.nominal)[0]),
        in_stds=tuple((measured / std).tolist()),
        perfect_balance=_rms(_without_card(camera, lamp, 0.0)),
        auto_balance=_rms(_without_card(camera, lamp, CAST_LEFT)),
    )


def repeatability(camera: str, lamp: str) -> Repeat:
    """Photograph one bone again and again: noise, exposure, distance, tilt, unevenness."""
    ways: tuple[tuple[float, float, float, Callable[[FloatArray], FloatArray]], ...] = (
        (0.75, PER_MM, 0.00, even),
        (0.75, PER_MM, 0.00, even),
        (0.38, PER_MM, 0.00, even),
        (0.19, PER_MM, 0.00, even),
        (0.75, 1.5 * PER_MM, 0.04, even),
        (0.60, PER_MM, -0.04, near_lamp),
    )
    bone = bones()[BONES // 2 : BONES // 2 + 1]
    scenes = [
        Scene(
            lamp=lamp, camera=camera, tone=contrasty, bone=bone, bone_pixels=bone_map(PER_MM),
            exposure=exposure, per_mm=per_mm, tilt=tilt, light=light, seed=seed,
        )
        for seed, (exposure, per_mm, tilt, light) in enumerate(ways)
    ]  # fmt: skip
    return Repeat(
        camera=camera,
        lamp=lamp,
        true=float(yellowness_e313(xyz_of(bone))[0]),
        readings=tuple(_read(scene) for scene in scenes),
    )


def _with_card(camera: str, lamp: str, values: PatchValues) -> tuple[FloatArray, FloatArray]:
    """Errors of the bones' yellowness index, and the standard errors that the fit states."""
    photo, placement = draw(
        Scene(lamp=lamp, camera=camera, tone=contrasty, exposure=PAPER_LEVEL, per_mm=PER_MM)
    )
    model = fit_colour(photo, placement, values)
    light = contrasty(PAPER_LEVEL * camera_values(bones(), lamp, camera))
    xyz = model.to_xyz(model.scene_linear(light))
    stated = np.array([model.yi_std(each) for each in xyz])
    return yellowness_e313(xyz) - yellowness_e313(xyz_of(bones())), stated


def _without_card(camera: str, lamp: str, cast_left: float) -> FloatArray:
    """Errors when the camera's sRGB is taken as it is."""
    cast = lamp_cast(lamp, camera) ** cast_left
    light = contrasty(PAPER_LEVEL * camera_values(bones(), lamp, camera) * cast)
    return np.asarray(yellowness_e313(light @ XYZ_FROM_SRGB.T) - yellowness_e313(xyz_of(bones())))


def _read(scene: Scene) -> float:
    photo, placement = draw(scene)
    model = fit_colour(photo, placement, scene.sheet.measured)
    view = measure_bone(photo, placement, model, state=BoneState.DRY)
    assert isinstance(view, BoneView), "the bone was not found"
    return view.reading.yi_e313


def _rms(errors: FloatArray | Sequence[float]) -> float:
    return float(np.sqrt(np.mean(np.square(errors))))


def _accuracy_table(rows: Sequence[Accuracy]) -> str:
    lines = [
        "Root-mean-square error of YI (ASTM E313, D65/2), "
        f"{BONES} bones from YI {yellowness_e313(xyz_of(bones())).min():.0f} "
        f"to {yellowness_e313(xyz_of(bones())).max():.0f}",
        f"{'camera':<22}{'lamp':<8}{'measured':>9}{'nominal':>9}{'in 2 std':>9}"
        f"{'no card*':>9}{'no card**':>10}",
    ]
    lines += [
        f"{row.camera:<22}{row.lamp:<8}{row.measured:>9.2f}{row.nominal:>9.2f}"
        f"{row.within_two_std:>9.0%}{row.perfect_balance:>9.2f}{row.auto_balance:>10.2f}"
        for row in rows
    ]
    columns = [[row.measured for row in rows], [row.nominal for row in rows]]
    bare = [[row.perfect_balance for row in rows], [row.auto_balance for row in rows]]
    inside = float(np.mean([row.within_two_std for row in rows]))
    lines.append(
        f"{'all':<30}{_rms(columns[0]):>9.2f}{_rms(columns[1]):>9.2f}{inside:>9.0%}"
        f"{_rms(bare[0]):>9.2f}{_rms(bare[1]):>10.2f}"
    )
    lines.append(
        "* sRGB as the camera gives it, perfect white balance; ** a tenth of the cast left"
    )
    return "\n".join(lines)


def _repeat_table(rows: Sequence[Repeat]) -> str:
    lines = [
        "Repeatability of YI under one lamp: noise, exposure to -2 stops, distance, tilt, lamp"
    ]
    lines += [
        f"{row.camera:<22}{row.lamp:<8} std {row.std:4.2f}  true {row.true:5.1f}  read "
        + " ".join(f"{reading:5.1f}" for reading in row.readings)
        for row in rows
    ]
    return "\n".join([*lines, f"{'all':<30} rms {_rms([row.std for row in rows]):4.2f}"])


def main() -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="fewer photos for the second table")
    pairs = list(itertools.product(CAMERAS, LAMPS))
    repeats = pairs[::8] if parser.parse_args().quick else pairs
    print(_accuracy_table([accuracy(camera, lamp) for camera, lamp in pairs]))
    print()
    print(_repeat_table([repeatability(camera, lamp) for camera, lamp in repeats]))


if __name__ == "__main__":
    main()
