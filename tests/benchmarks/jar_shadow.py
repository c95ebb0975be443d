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
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import cv2
import numpy as np
from numpy.typing import NDArray

from greasecheck.errors import GreasecheckError
from greasecheck.measure.reading import PhotoView, ReadSettings, view_photo
from greasecheck.measure.sight.jar_light import (
    BLUE,
    RED,
    ContrastLost,
    JarLight,
    look_beside_jar,
    through_jar,
)
from greasecheck.measure.water.attenuation import Jar
from greasecheck.measure.water.light import added_veil, contrast_lost
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
from tests.synthetic.path_tracer.series import JUDGED, cases

SEED = 20261129
LIMITS = (
    "jar_light_change",
    "shadow_on_jar",
    "bar_contrast_lean",
    "bar_contrast_step",
    "bars_brightened_std",
    "paper_lift_by_surroundings",
    "sight_clipped_share",
    "light_gradient_ratio",
)
WAYS = (0.3, 0.4, 0.5, 0.6, 0.75, 0.85, 1.0)
LEAST_MURK = 0.1  # share of contrast scattered away, or depth absorbed, that light tells of
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
    """Read every water of a lamp, each spoilt in each of the ways."""
    clear, *waters = [case for case in cases() if case.light == lamp]
    with TemporaryDirectory() as folder:
        made = reference(light_of(clear), PLAIN, Path(folder))
        settings = ReadSettings(jar=Jar(clear=made, path_mm=PATH_MM))
        for case in waters:
            picture = light_of(case)
            spoilt = {kind.__name__: _spoilt(picture, kind, case.name, seed) for kind in kinds}
            for name, light in spoilt.items():
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Sound:
    """What a sound photo shows around the jar.

    `kept` is the light of the places and the glass over that in clear water, shape (n + 1, 3),
    `jar` the share of the places' light which the jar takes or adds, shape (n,), `lost` what the
    water takes of the contrast, `over_veil` the contrast lost in red over the veil.
    """

    result: Result
    kept: Mask
    jar: Mask
    lost: ContrastLost
    over_veil: float


def sound_photos(lamp: str) -> Iterator[Sound]:
    """Read every water of a lamp as it is; none where its reference is refused."""
    clear, *waters = [case for case in cases() if case.light == lamp]
    with TemporaryDirectory() as folder:
        try:
            made = reference(light_of(clear), PLAIN, Path(folder))
        except GreasecheckError as error:
            print(f"{lamp}: {error.problem}: {error.hint}")
            return
        assert made.surroundings is not None
        then = made.surroundings.jar
        assert then is not None
        settings = ReadSettings(jar=Jar(clear=made, path_mm=PATH_MM))
        for case in waters:
            path = take(light_of(case), PLAIN, case.number, Path(folder), f"water{case.number}")
            view = view_photo(path, settings)
            assert view.water is not None
            pair, now = view.water.sight.fine, _light_around(view)
            yield Sound(
                result=Result(variant="sound", case=case, reading=view.reading),
                kept=_rows(now) / _rows(then),
                jar=np.array([through_jar(place) for place in then.places]),
                lost=contrast_lost(pair, made.fine),
                over_veil=(1 - pair.ratio[RED]) / added_veil(pair, made.fine)[RED],
            )


def _light_around(view: PhotoView) -> JarLight:
    assert view.photo is not None
    assert view.placement is not None
    assert view.colour is not None
    assert view.water is not None
    level = view.water.sight.level
    found = look_beside_jar(view.photo, view.placement, view.colour, level)
    assert found is not None
    return found


def _rows(light: JarLight) -> Mask:
    return np.array([*light.places, light.glass])


def left_by_way(found: list[Sound], way: float, spots: slice) -> float:
    """Root mean square light that brown water changes beyond what it takes of a part of it.

    Light goes through the water for a share `way` of its depth; how large that part is, is fitted
    to the three channels of each place and photo.
    """
    left = []
    for one in found:
        taken, lost = 1 - np.exp(-way * one.lost.absorbed), 1 - one.kept[spots]
        part = np.clip(lost @ taken / max(float(taken @ taken), 1e-9), 0, 1)
        left.append(lost - part[:, np.newaxis] * taken)
    return float(np.sqrt(np.mean(np.square(left))))


def print_limits() -> None:
    """Print what sound photos leave in the lamps that limits are chosen on, then constants."""
    found = []
    for lamp in FITTED:
        for one in sound_photos(lamp):
            found.append(one)
            values = {row.name: row.value for row in one.result.reading.checks}
            shown = "  ".join(f"{name} {values.get(name, 0) or 0:.3f}" for name in LIMITS)
            print(f"{lamp:16s} {one.result.true_per_m:6.2f} per m  {shown}", flush=True)
    print_constants(found)


def print_constants(found: list[Sound]) -> None:
    """Print what the constants of `jar_light.py` and `light.py` are taken from."""
    brown = [one for one in found if not one.result.milky]
    for name, spots in (("WAY_TO_PAPER", slice(0, -1)), ("WAY_TO_GLASS", slice(-1, None))):
        left = ", ".join(f"{way}: {left_by_way(brown, way, spots):.4f}" for way in WAYS)
        print(f"{name} {left}")
    milky = [one for one in found if one.result.milky]
    colour = [
        one.kept[:, BLUE] - one.kept[:, RED] for one in milky if one.lost.absorbed[BLUE] < 0.1
    ]
    print(f"COLOUR_STD {np.sqrt(np.mean(np.square(colour))):.4f}")
    murky = [one for one in milky if one.lost.scattered[RED] > LEAST_MURK]
    murk = np.array([one.lost.scattered[RED] for one in murky])
    light = np.log([one.kept.min(axis=1) for one in murky]) / murk[:, np.newaxis]
    glow = light - np.array([[*one.jar, 0.0] for one in murky])
    print(f"FROM_WATER {-light[:, -1].min():.3f}, USUAL_GLOW {glow.max():.3f}")
    over_veil = np.quantile([one.over_veil for one in murky], (0.5, 0.9, 1.0))
    print("LOST_PER_VEIL: half, 0.9 and all below", " ".join(f"{one:.2f}" for one in over_veil))


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
