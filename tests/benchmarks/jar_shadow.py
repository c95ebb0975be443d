"""Shadows and bright spots on the jar: what becomes of the water's reading.

    python -m tests.benchmarks.jar_shadow [seed [lamp]]
    python -m tests.benchmarks.jar_shadow --limits
    python -m tests.benchmarks.jar_shadow --reference [seed [lamp]]

The first paints soft shadows, reflections, a lamp that has moved and the seams of a panorama on
photos of path-traced stands in lamps that no limit was chosen on, and counts what is good and
wrong. The second prints what sound photos leave in the lamps that limits are chosen on. The third
reads sound photos by a clear-water photo that was spoilt so.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import cv2
import numpy as np
from numpy.typing import NDArray

from greasecheck.errors import GreasecheckError
from greasecheck.measure.reading import ReadSettings, view_photo
from greasecheck.measure.water.attenuation import Jar
from greasecheck.model import Verdict
from tests.benchmarks.water_constants import FITTED
from tests.benchmarks.water_lamps import (
    OUTSIDE,
    PATH_MM,
    PLAIN,
    Result,
    light_of,
    line,
    reference,
    summary,
    take,
)
from tests.synthetic.camera import Picture
from tests.synthetic.path_tracer.compose import FRAME, PX_PER_MM
from tests.synthetic.path_tracer.series import DESIGN, JUDGED, cases

SEED = 20261129
LIMITS = ("jar_light_change", "bar_contrast_lean", "bars_brightened_std", "shadow_on_jar")
WIDE_MM = 400.0  # longer than the sheet

Mask = NDArray[np.float64]
Spoil = Callable[[Picture, np.random.Generator], Picture]


def hand(light: Picture, rng: np.random.Generator) -> Picture:
    """Shade jar and little else: a tilted soft ellipse."""
    centre = rng.uniform(55, 125), rng.uniform(90, 165)
    half = rng.uniform(25, 60), rng.uniform(50, 95)
    mask = ellipse(light, centre, half, rng.uniform(-30, 30), rng.uniform(3, 12))
    return shaded(light, mask, rng.uniform(0.05, 0.35))


def low(light: Picture, rng: np.random.Generator) -> Picture:
    """Shade the lower half of the jar."""
    centre, half = (rng.uniform(75, 105), 190.0), (rng.uniform(40, 80), rng.uniform(50, 75))
    mask = ellipse(light, centre, half, 0.0, rng.uniform(3, 12))
    return shaded(light, mask, rng.uniform(0.05, 0.35))


def finger(light: Picture, rng: np.random.Generator) -> Picture:
    """Shade a stripe as wide as a finger or two that runs over the bars."""
    centre, half = (rng.uniform(70, 110), 150.0), (rng.uniform(8, 20), WIDE_MM)
    mask = ellipse(light, centre, half, rng.uniform(-25, 25), rng.uniform(2, 6))
    return shaded(light, mask, rng.uniform(0.08, 0.4))


def body(light: Picture, rng: np.random.Generator) -> Picture:
    """Shade one side of everything, with a wide edge."""
    x, y = places(light)
    turn = rng.uniform(0, 2 * np.pi)
    edge = (x - 90) * np.cos(turn) + (y - 140) * np.sin(turn) + rng.uniform(-40, 40)
    return shaded(light, 1 / (1 + np.exp(-edge / rng.uniform(10, 40))), rng.uniform(0.08, 0.4))


def bright(light: Picture, rng: np.random.Generator) -> Picture:
    """Throw a reflection on the jar."""
    centre = rng.uniform(70, 110), rng.uniform(120, 175)
    half = rng.uniform(25, 60), rng.uniform(25, 70)
    mask = ellipse(light, centre, half, rng.uniform(-30, 30), rng.uniform(3, 12))
    return shaded(light, mask, -rng.uniform(0.05, 0.25))


def moved_lamp(light: Picture, rng: np.random.Generator) -> Picture:
    """Tilt the light over the sheet, as a lamp that was moved a little does."""
    x, y = places(light)
    across, down = rng.uniform(-0.15, 0.15, 2)
    tilt = np.exp(across * (x - 130) / 130 + down * (y - 95) / 95)
    return np.asarray(light * tilt[..., None], np.float32)


def stitched(light: Picture, rng: np.random.Generator) -> Picture:
    """Seam of a panorama: what is right of it is a little lower and of another exposure."""
    seam = round(rng.uniform(0.1, 0.5) * light.shape[1])
    moved = light.copy()
    moved[:, seam:] = np.roll(light, int(rng.integers(-4, 5)), axis=0)[:, seam:]
    moved[:, seam:] *= rng.uniform(0.94, 1.06)
    return moved


KINDS: tuple[Spoil, ...] = (hand, low, finger, body, bright, moved_lamp, stitched)


def places(light: Picture) -> tuple[Mask, Mask]:
    """Return where each pixel lies on the sheet [mm]."""
    rows, columns = light.shape[:2]
    x = FRAME[0] + (np.arange(columns) + 0.5) / PX_PER_MM
    y = FRAME[2] + (np.arange(rows) + 0.5) / PX_PER_MM
    across, down = np.meshgrid(x, y)
    return across, down


def ellipse(
    light: Picture,
    centre: tuple[float, float],
    half: tuple[float, float],
    tilt_deg: float,
    edge_mm: float,
) -> Mask:
    """Return a soft-edged ellipse, 0 to 1; lengths in mm."""
    x, y = places(light)
    turn = np.radians(tilt_deg)
    along = (x - centre[0]) * np.cos(turn) + (y - centre[1]) * np.sin(turn)
    across = (y - centre[1]) * np.cos(turn) - (x - centre[0]) * np.sin(turn)
    inside = (along / half[0]) ** 2 + (across / half[1]) ** 2 < 1
    return np.asarray(cv2.GaussianBlur(inside.astype(np.float64), (0, 0), edge_mm * PX_PER_MM))


def shaded(light: Picture, mask: Mask, dark: float) -> Picture:
    """Take the share `dark` of the light where the mask is 1."""
    return np.asarray(light * (1 - dark * mask[..., None]), np.float32)


def results(lamp: str, kinds: tuple[Spoil, ...], seed: int) -> Iterator[Result]:
    """Read every water of a lamp, each spoilt in each of the ways; without any as it is."""
    clear, *waters = [case for case in cases() if case.light == lamp]
    with TemporaryDirectory() as folder:
        made = reference(light_of(clear), PLAIN, Path(folder))
        settings = ReadSettings(jar=Jar(clear=made, path_mm=PATH_MM))
        for case in waters:
            picture = light_of(case)
            spoilt = {kind.__name__: _spoilt(picture, kind, case.name, seed) for kind in kinds}
            for name, light in (spoilt or {"sound": picture}).items():
                path = take(light, PLAIN, case.number, Path(folder), f"water{case.number}")
                yield Result(variant=name, case=case, reading=view_photo(path, settings).reading)


def by_spoilt_reference(lamp: str, kinds: tuple[Spoil, ...], seed: int) -> Iterator[Result | str]:
    """Read every water of a lamp as it is, by a clear-water photo that was spoilt in each way."""
    clear, *waters = [case for case in cases() if case.light == lamp]
    with TemporaryDirectory() as name:
        folder = Path(name)
        photos = [
            take(light_of(case), PLAIN, case.number, folder, f"water{case.number}")
            for case in waters
        ]
        for kind in kinds:
            light = _spoilt(light_of(clear), kind, f"{lamp}/clear", seed)
            try:
                made = reference(light, PLAIN, folder)
            except GreasecheckError as error:
                yield f"{lamp}, {kind.__name__}: {error.problem}"
                continue
            settings = ReadSettings(jar=Jar(clear=made, path_mm=PATH_MM))
            for case, path in zip(waters, photos, strict=True):
                reading = view_photo(path, settings).reading
                yield Result(variant=kind.__name__, case=case, reading=reading)


def _spoilt(picture: Picture, kind: Spoil, name: str, seed: int) -> Picture:
    digits = [seed, *f"{name}/{kind.__name__}".encode()]
    return kind(picture, np.random.default_rng(digits))


def print_limits() -> None:
    """Print what sound photos leave in the lamps that limits are chosen on."""
    for lamp in (lamp for lamp in FITTED if lamp in DESIGN):
        for result in results(lamp, (), SEED):
            values = {row.name: row.value for row in result.reading.checks}
            shown = "  ".join(f"{name} {values.get(name, 0) or 0:.3f}" for name in LIMITS)
            print(f"{lamp:12s} {result.true_per_m:6.2f} per m  {shown}", flush=True)


def main(*chosen: str) -> None:
    """Print each reading that is good, then the shares of each kind."""
    if chosen == ("--limits",):
        print_limits()
        return
    by_reference = chosen[:1] == ("--reference",)
    chosen = chosen[1:] if by_reference else chosen
    read = by_spoilt_reference if by_reference else results
    seed = int(chosen[0]) if chosen else SEED
    found: list[Result] = []
    for lamp in chosen[1:] or [lamp for lamp in JUDGED if lamp not in OUTSIDE]:
        for result in read(lamp, KINDS, seed):
            if isinstance(result, str):
                print(result, flush=True)
                continue
            found.append(result)
            if result.reading.verdict is Verdict.GOOD:
                print(line(result), flush=True)
    for kind in KINDS:
        print(summary(kind.__name__, [one for one in found if one.variant == kind.__name__]))
    print(summary("all", found))


if __name__ == "__main__":
    main(*sys.argv[1:])
