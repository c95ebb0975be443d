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


def kinds(folder: Path) -> Iterator[tuple[str, Path]]:
    """Yield photos of 12 MP, each with what its reading is compared with."""
    from tests.unit.measure.photo_files import heic, write_dng  # noqa: PLC0415 - see top

    first, second = twelve_megapixels(folder), second_sheet(folder)
    yield "a 12 MP photo read / cv2.imread", first
    yield "one of sheet 2 read / cv2.imread", second
    pixels = np.asarray(cv2.imread(str(first)), np.uint8)[..., ::-1]
    yield "a HEIC photo read / pillow_heif", heic(folder / "twelve.heic", pixels)
    try:
        import rawpy  # noqa: PLC0415, F401 - optional
    except ImportError:
        return
    light = np.rint(linear_of_srgb(pixels / 255) * 65535).astype(np.uint16)
    yield "a raw photo read / rawpy", write_dng(folder / "twelve.dng", light)


def _decoded(path: Path) -> object:
    """Decode a photo at full size, by what its kind is usually decoded with."""
    match path.suffix:
        case ".heic":
            return _decoded_heic(path)
        case ".dng":
            return _developed(path)
        case _:
            return cv2.imread(str(path))


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


def cost(path: Path, repeats: int) -> float:
    """Processor time of a reading over that of decoding alone, in a process of its own.

    What a process has read before changes what decoding costs it: a block of freed memory as large
    as the picture saves a third of `cv2.imread`.
    """
    return float(_in_fresh_process(f"cost_here(Path({str(path)!r}), {repeats})"))


def cost_here(path: Path, repeats: int) -> float:
    """Return the median ratio of reading to decoding in turn, once both have run."""
    cv2.setNumThreads(1)  # OpenCV's waiting threads would count as processor time
    work, yardstick = partial(read, path), partial(_decoded, path)
    for each in (yardstick, work):
        each()
    clock = time.process_time
    return median(seconds(work, clock) / seconds(yardstick, clock) for _ in range(repeats))


def seconds(work: Callable[[], object], clock: Callable[[], float]) -> float:
    """How long a piece of work takes by a clock."""
    start = clock()
    work()
    return clock() - start


def read(path: Path) -> Reading:
    """Read a photo; here so that a worker process can find it."""
    return view_photo(path, ReadSettings()).reading


def pool_speedup(path: Path, repeats: int) -> float:
    """How many times as fast two processes read copies of a photo as one does."""
    copies = [path] * (4 * repeats)

    def spent(processes: int) -> float:
        return seconds(
            lambda: list(map_photos(read, copies, processes=processes)), time.perf_counter
        )

    read(path)  # imports what reading needs
    return spent(1) / spent(2)


def peak_of_reading(path: Path) -> float:
    """Peak memory of a fresh process that reads one photo [MiB]."""
    return float(_in_fresh_process(f"peak_here(Path({str(path)!r}))"))


def peak_here(path: Path) -> float:
    """Read a photo and return the peak memory of this process [MiB]."""
    read(path)
    return own_peak()


def _in_fresh_process(call: str) -> str:
    """Return what a call of this module's functions prints in a process of its own."""
    code = (
        "from pathlib import Path; from tests.benchmarks import reading_speed;"
        f"print(reading_speed.{call})"
    )
    answer = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    return answer.stdout


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
    with tempfile.TemporaryDirectory() as name:
        photos = list(kinds(Path(name)))
        for what, path in photos:
            print(f"{what:36} {cost(path, repeats):.2f}", flush=True)
        _, first = photos[0]
        print(f"speed-up of two processes            {pool_speedup(first, repeats):.2f}")
        print(f"peak memory of a reading [MiB]       {peak_of_reading(first):.0f}")


if __name__ == "__main__":
    main()
