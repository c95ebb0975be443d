"""Water read from path-traced photos in many lamps, through many cameras and spoilt glass.

Run ``python -m tests.benchmarks.water_lamps [SET [LAMP ...] [CAMERA ...]]``, SET one of `SETS`:
`judged` (the default) and `fresh`, lights that nothing was chosen on, or `design` and `fitted`,
which the constants of `stand_light.py` and `spectral.py` were chosen on. The stands were rendered
by `tests.synthetic.path_tracer.series`; cameras and glass are added here.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from zlib import crc32

import cv2
import numpy as np

from greasecheck.errors import GreasecheckError
from greasecheck.measure.reading import ReadSettings, view_photo
from greasecheck.measure.stand import view_clear_water
from greasecheck.measure.water.attenuation import Jar
from greasecheck.measure.water.reference import ClearWater, make_clear_water
from greasecheck.model import Bound, Reading, Verdict
from tests.synthetic.camera import Camera, Picture, expose, jpeg, metered
from tests.synthetic.path_tracer.compose import FRAME, PX_PER_MM, compose
from tests.synthetic.path_tracer.series import (
    CLEAR,
    DESIGN,
    FITTED,
    FRESH,
    JUDGED,
    PARTS,
    Case,
    cases,
)
from tests.synthetic.path_tracer.stand import JAR, Rendered

RENDERED = Path(__file__).parent.parent / "synthetic" / "water_lamps"
PATH_MM = 60.0
START = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)
SETS = {"judged": JUDGED, "fresh": FRESH, "design": DESIGN, "fitted": FITTED}
OUTSIDE = ("overhead", "behind", "panel front", "window left")  # not the README's lamp
PLAIN = Camera(
    name="plain",
    make="Path tracer",
    response=((0.94, 0.05, 0.01), (0.04, 0.92, 0.04), (0.01, 0.05, 0.94)),
    curve=0.05,
    base_px=14.0 * PX_PER_MM,
    clarity_px=5.0 * PX_PER_MM,
    subsampling="4:4:4",
)
PAPER_LEVEL = 0.72  # of full scale, that the brightest paper is exposed to
CAMERAS = (
    PLAIN,
    replace(PLAIN, name="phone", curve=0.12, sharpen=0.4, noise=0.01414, quality=88),
    replace(PLAIN, name="tone 10 % 14 mm", local=0.10),
    replace(PLAIN, name="tone 20 % 30 mm", local=0.20, base_px=30.0 * PX_PER_MM),
    replace(PLAIN, name="tone 30 % 14 mm", local=0.30),
    replace(PLAIN, name="tone 30 % 3 mm", local=0.30, base_px=3.0 * PX_PER_MM),
    replace(PLAIN, name="tone 55 % 60 mm", local=0.55, base_px=60.0 * PX_PER_MM),
    replace(PLAIN, name="tone 30 % edges", local=0.30, edges=True),
    replace(PLAIN, name="denoise", denoise=0.12, noise=0.01826),
    replace(PLAIN, name="HDR", local=0.45, base_px=10.0 * PX_PER_MM, clarity=0.25, sharpen=0.5),
)
RED = np.array([1.1, 1.0, 1.0], np.float32)  # white balance of the water's photos alone


@dataclass(frozen=True, slots=True, kw_only=True)
class Spoiling:
    """What is done to the light from behind the jar: blur [mm] and veil, where given."""

    name: str
    blur_mm: float = 0.0
    veil: float = 0.0


GLASS = (
    Spoiling(name="smear", blur_mm=0.25, veil=0.05),
    Spoiling(name="thick smear", blur_mm=0.5, veil=0.08),
    Spoiling(name="mist", blur_mm=0.05, veil=0.15),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """One photo as read; attenuations above that of the reference water [1/m]."""

    variant: str
    case: Case
    reading: Reading

    @property
    def true_per_m(self) -> float:
        """True attenuation in red."""
        return self.case.medium.extinction_per_m[0] - CLEAR.extinction_per_m[0]

    @property
    def milky(self) -> bool:
        """Whether the water scatters nearly all that it takes."""
        return self.case.medium.albedo[0] > 0.9

    @property
    def error_per_m(self) -> float:
        """Value read less the true one; of a bound, what it misses."""
        water = self.reading.water
        assert water is not None
        error = water.main_per_m - self.true_per_m
        if water.bound is Bound.ABOVE:
            return max(error, 0.0)
        return min(error, 0.0) if water.bound is Bound.BELOW else error

    @property
    def error_std(self) -> float:
        """Error in stated standard errors."""
        assert self.reading.water is not None
        return self.error_per_m / max(self.reading.water.std_per_m, 1e-9)

    @property
    def near(self) -> bool:
        """Whether the error keeps what is asked for."""
        share = 0.10 if self.milky else 0.15
        return abs(self.error_per_m) <= max(0.15, share * self.true_per_m)


@cache
def _file(part: str) -> dict[str, np.ndarray[tuple[int, ...], np.dtype[np.float16]]]:
    with np.load(RENDERED / f"{part}.npz") as file:
        return dict(file)


def rendered(case: Case) -> Rendered:
    """Return what the path tracer made of a stand."""
    file = _file(next(name for name, part in PARTS.items() if case.light in part.lights))
    parts = [file[f"{case.name}/{part}"] for part in ("far", "near", "scattered")]
    far, near, scattered = (part.astype(np.float32) for part in parts)
    return Rendered(far=far, near=near, scattered=scattered)


def light_of(case: Case) -> Picture:
    """Compose the linear picture of a rendered stand."""
    return compose(rendered(case), case.medium)


def spoil(light: Picture, spoiling: Spoiling) -> Picture:
    """Smear or mist the jar: what is behind it is blurred, and veiled by its own mean light."""
    left, top = (round((JAR[k] - 2 - FRAME[k]) * PX_PER_MM) for k in (0, 2))
    right, bottom = (round((JAR[k] + 2 - FRAME[k - 1]) * PX_PER_MM) for k in (1, 3))
    spoilt = light.copy()
    area = spoilt[top:bottom, left:right]
    seen = cv2.GaussianBlur(area, (0, 0), spoiling.blur_mm * PX_PER_MM)
    area[...] = (1 - spoiling.veil) * seen + spoiling.veil * area.mean(axis=(0, 1))
    return spoilt


def take(light: Picture, camera: Camera, minute: int, folder: Path, name: str) -> Path:
    """Photograph a picture into a file."""
    path = folder / f"{name}.jpg"
    seed = crc32(f"{name}{camera.name}".encode())
    picture = expose(light, camera, metered(light, camera, 99, PAPER_LEVEL), seed)
    path.write_bytes(jpeg(picture, camera, START + timedelta(minutes=minute)))
    return path


def reference(light: Picture, camera: Camera, folder: Path) -> ClearWater:
    """Make the clear-water reference of a light."""
    settings = ReadSettings(jar=Jar(path_mm=PATH_MM))
    path = take(light, camera, 0, folder, "clear")
    return make_clear_water([view_clear_water(path, settings, tap_water=True)], PATH_MM)


def results(light: str, cameras: tuple[Camera, ...], *, glass: bool) -> Iterator[Result | str]:
    """Read all waters of a light; a refused reference comes as its advice."""
    clear, *waters = [case for case in cases() if case.light == light]
    pictures = [(case, light_of(case)) for case in waters]
    with TemporaryDirectory() as folder:
        for camera in cameras:
            try:
                made = reference(light_of(clear), camera, Path(folder))
            except GreasecheckError as error:
                yield f"{light}, {camera.name}: {error.problem}: {error.hint}"
                continue
            settings = ReadSettings(jar=Jar(clear=made, path_mm=PATH_MM))
            for case, picture in pictures:
                for variant, spoilt in _variants(picture, camera, glass=glass):
                    path = take(spoilt, camera, case.number, Path(folder), f"water{case.number}")
                    reading = view_photo(path, settings).reading
                    yield Result(variant=variant, case=case, reading=reading)


def _variants(picture: Picture, camera: Camera, *, glass: bool) -> Iterator[tuple[str, Picture]]:
    yield camera.name, picture
    if camera.name == "plain" and glass:
        for spoiling in GLASS:
            yield spoiling.name, spoil(picture, spoiling)
        yield "red +10 %", picture * RED


def line(result: Result) -> str:
    """One line of the table of readings."""
    medium, water = result.case.medium, result.reading.water
    failed = [row.name for row in result.reading.checks if not row.passed]
    head = (
        f"{result.case.light:15s} {result.variant:15s} {result.true_per_m:7.2f} "
        f"{medium.asymmetry:.2f} {medium.albedo[0]:.2f}"
    )
    if water is None:
        return f"{head} {'-':>24} {result.reading.verdict} {', '.join(failed)}"
    return (
        f"{head} {water.main_per_m:7.2f} {water.std_per_m:6.2f} {water.bound or '':>5} "
        f"{result.error_std:+5.1f} {'' if result.near else 'far':3s} {result.reading.verdict} "
        f"{', '.join(failed)}"
    )


def summary(name: str, found: list[Result]) -> str:
    """Shares of a group: good ones within what is asked for, coverage, tails."""
    good = [one for one in found if one.reading.verdict is Verdict.GOOD and one.reading.water]
    far = [abs(one.error_std) for one in good]
    milky = [one.near for one in good if one.milky and one.true_per_m <= 60]
    brown = [one.near for one in good if not one.milky]
    read = [one for one in good if one.reading.water and one.reading.water.bound is None]
    covered = [abs(one.error_std) <= 2 for one in read]
    return (
        f"{name:17s} {len(found):4d} read, {len(good):4d} good; within: milky {_share(milky)}, "
        f"brown {_share(brown)}; two errors cover {_share(covered)}; "
        f"beyond 3: {sum(one > 3 for one in far)}, beyond 5: {sum(one > 5 for one in far)}"
    )


def _share(flags: list[bool]) -> str:
    return f"{np.mean(flags):.2f} of {len(flags)}" if flags else "none"


def main(lamps: str = "judged", *names: str) -> None:
    """Print each reading of the lamps and cameras named, or of all, then the cameras' shares."""
    some = {name for name in names if name not in SETS[lamps]}
    chosen = tuple(one for one in CAMERAS if not some or one.name in some)
    glass = not some or "glass" in some
    found: list[Result] = []
    for light in [name for name in SETS[lamps] if name in names] or SETS[lamps]:
        for result in results(light, chosen, glass=glass):
            if isinstance(result, str):
                print(result, flush=True)
                continue
            print(line(result), flush=True)
            found.append(result)
    inside = [one for one in found if one.case.light not in OUTSIDE]
    for variant in dict.fromkeys(one.variant for one in inside):
        print(summary(variant, [one for one in inside if one.variant == variant]))
    print(summary("all", inside))


if __name__ == "__main__":
    main(*sys.argv[1:])
