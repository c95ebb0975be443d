"""How long a reading takes against decoding the same JPEG, and what it needs in memory.

Worker processes import this module, as they import the light one that the command starts from: what
makes the photos is imported where it is used.

Run ``python -m tests.benchmarks.reading_speed``.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from statistics import median

import cv2
import numpy as np

from greasecheck.measure.many import map_photos
from greasecheck.measure.reading import ReadSettings, view_photo
from greasecheck.model import Reading
from greasecheck.reference.srgb import linear_of_srgb

WIDTH_PX, HEIGHT_PX = 4000, 3000
KIB_PER_MIB = 1024


@dataclass(frozen=True, slots=True, kw_only=True)
class Speed:
    """Ratios of times, that of reading in processor time, and a peak of memory [MiB]."""

    reading_over_imread: float
    pool_speedup: float
    peak_mib: float


def twelve_megapixels(folder: Path) -> Path:
    """Save a drawn photo of 12 MP as a JPEG."""
    from tests.synthetic.jar_scene import FIELD_MM, JarScene, photograph  # noqa: PLC0415 - see top

    scene = JarScene(
        transmittance=(0.4, 0.4, 0.35),
        veil=0.2,
        bone_lab_rgb=(0.62, 0.55, 0.42),
        px_per_mm=WIDTH_PX / FIELD_MM.width_mm,
        blur_px=1.2,
    )
    pixels = photograph(scene).pixels
    pad = HEIGHT_PX - pixels.shape[0]
    tall = cv2.copyMakeBorder(pixels, pad // 2, pad - pad // 2, 0, 0, cv2.BORDER_REPLICATE)
    noisy = np.clip(tall + np.random.default_rng(1).normal(0, 2, tall.shape), 0, 255)
    path = folder / "twelve.jpg"
    rgb = noisy.astype(np.uint8)
    cv2.imwrite(str(path), rgb[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 92])
    return path


def kinds(folder: Path) -> Iterator[tuple[str, Path, Callable[[], object]]]:
    """Yield photos of 12 MP: what it is over, its file, and what only decodes that."""
    from tests.unit.measure.photo_files import heic, write_dng  # noqa: PLC0415 - see top

    first, second = twelve_megapixels(folder), second_sheet(folder)
    yield "a 12 MP photo read / cv2.imread", first, partial(cv2.imread, str(first))
    yield "one of sheet 2 read / cv2.imread", second, partial(cv2.imread, str(second))
    pixels = np.asarray(cv2.imread(str(first)), np.uint8)[..., ::-1]
    phone = heic(folder / "twelve.heic", pixels)
    yield "a HEIC photo read / pillow_heif", phone, partial(_decoded_heic, phone)
    try:
        import rawpy  # noqa: PLC0415, F401 - optional
    except ImportError:
        return
    light = np.rint(linear_of_srgb(pixels / 255) * 65535).astype(np.uint16)
    raw = write_dng(folder / "twelve.dng", light)
    yield "a raw photo read / rawpy", raw, partial(_developed, raw)


def _decoded_heic(path: Path) -> object:
    import pillow_heif  # noqa: PLC0415 - only this kind needs it

    return np.asarray(pillow_heif.open_heif(path))


def _developed(path: Path) -> object:
    import rawpy  # noqa: PLC0415 - optional

    with rawpy.imread(str(path)) as raw:
        return raw.postprocess(demosaic_algorithm=rawpy.DemosaicAlgorithm.LINEAR, output_bps=16)


def second_sheet(folder: Path) -> Path:
    """Save a path-traced photo of sheet version 2 with a jar, enlarged to 12 MP."""
    from tests.benchmarks.water_lamps import PLAIN, light_of, take  # noqa: PLC0415 - see top
    from tests.synthetic.path_tracer.series import cases  # noqa: PLC0415 - see top

    case = next(one for one in cases() if (one.light, one.number) == ("panel at 30", 3))
    wide = cv2.resize(light_of(case), (WIDTH_PX, HEIGHT_PX), interpolation=cv2.INTER_CUBIC)
    return take(np.maximum(wide, 0), PLAIN, 0, folder, "second")


def ratio(
    work: Callable[[], object],
    yardstick: Callable[[], object],
    repeats: int,
    clock: Callable[[], float] = time.perf_counter,
) -> float:
    """Median ratio of two pieces of work done in turn, process warm."""
    for each in (yardstick, work):
        each()
    return median(seconds(work, clock) / seconds(yardstick, clock) for _ in range(repeats))


def seconds(work: Callable[[], object], clock: Callable[[], float]) -> float:
    """How long a piece of work takes by a clock."""
    start = clock()
    work()
    return clock() - start


def read(path: Path) -> Reading:
    """Read a photo; here so that a worker process can find it."""
    return view_photo(path, ReadSettings()).reading


def measure(repeats: int) -> Speed:
    """Measure on this machine; OpenCV's waiting threads would count as processor time."""
    cv2.setNumThreads(1)
    with tempfile.TemporaryDirectory() as name:
        path = twelve_megapixels(Path(name))
        copies = [path] * (4 * repeats)

        def pool(processes: int) -> object:
            return list(map_photos(read, copies, processes=processes))

        return Speed(
            reading_over_imread=ratio(
                lambda: read(path), lambda: cv2.imread(str(path)), repeats, time.process_time
            ),
            pool_speedup=ratio(lambda: pool(1), lambda: pool(2), 1),
            peak_mib=peak_of_reading(path),
        )


def peak_of_reading(path: Path) -> float:
    """Peak memory of a fresh process that reads one photo [MiB]."""
    code = (
        "from pathlib import Path; from tests.benchmarks import reading_speed;"
        f"reading_speed.read(Path({str(path)!r})); print(reading_speed.own_peak())"
    )
    answer = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    return float(answer.stdout)


def own_peak() -> float:
    """Peak memory of this process alone [MiB]; Linux's own figure, which no parent adds to."""
    lines = Path("/proc/self/status").read_text(encoding="utf-8").splitlines()
    (peak,) = (line for line in lines if line.startswith("VmHWM:"))
    return float(peak.split()[1]) / KIB_PER_MIB


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeats", type=int, default=9)
    repeats = parser.parse_args().repeats
    speed = measure(repeats)
    print(f"reading / cv2.imread, 12 MP JPEG     {speed.reading_over_imread:.2f}")
    with tempfile.TemporaryDirectory() as name:
        for what, path, decoded in kinds(Path(name)):
            print(
                f"{what:36} {ratio(partial(read, path), decoded, repeats, time.process_time):.2f}"
            )
    print(f"speed-up of two processes            {speed.pool_speedup:.2f}")
    print(f"peak memory of a reading [MiB]       {speed.peak_mib:.0f}")


if __name__ == "__main__":
    main()
