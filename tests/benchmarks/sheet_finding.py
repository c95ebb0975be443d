"""How surely, exactly and quickly the sheet is found: `python -m tests.benchmarks.sheet_finding`.

Found: random views inside the stated limits (tilt to 35 degrees, any turn, width from 15 % of the
frame, uneven light, mild blur, noise, JPEG, a corner marker hidden in a quarter of them).
Absent: pictures without a sheet, scikit-image's own among them.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter

import cv2
import numpy as np
from numpy.typing import NDArray

from greasecheck.errors import SheetError
from greasecheck.measure.sheet import find_sheet
from greasecheck.model import Photo, Placement
from tests.synthetic.pictures import photograph, picture_without_sheet
from tests.synthetic.views import Setting, View, photo_of, random_setting, render

SEED = 20261125
ROUNDS = 9


@dataclass(frozen=True, slots=True, kw_only=True)
class Finds:
    """What came of the views with a sheet; errors over points all over the sheet."""

    views: int
    found: int
    tubs_wrong: int
    tubs_missed: int
    mean_error_mm: NDArray[np.float64]
    largest_error_mm: NDArray[np.float64]
    mean_error_px: NDArray[np.float64]
    tilt_error_deg: NDArray[np.float64]


def try_find(photo: Photo) -> Placement | None:
    try:
        return find_sheet(photo)
    except SheetError:
        return None


def find_in_views(count: int, seed: int = SEED) -> Finds:
    """Find the sheet in random views; half of them before clutter, half before a photograph."""
    rng = np.random.default_rng(seed)
    results = []
    for number in range(count):
        view = _view(rng, number)
        placement = try_find(view.photo)
        if placement is not None:
            results.append((view, placement))
    errors = [view.error_mm(found.homography, found.lens) for view, found in results]
    means = np.array([error.mean() for error in errors])
    scale = np.array([found.pixels_per_mm for _, found in results])
    tubs = [(view.setting.tub, found.tub) for view, found in results]
    tilts = [found.tilt_deg - view.setting.tilt_deg for view, found in results]
    return Finds(
        views=count,
        found=len(results),
        tubs_wrong=sum(seen not in {true, None} for true, seen in tubs),
        tubs_missed=sum(true is not None and seen is None for true, seen in tubs),
        mean_error_mm=means,
        largest_error_mm=np.array([error.max() for error in errors]),
        mean_error_px=means * scale,
        tilt_error_deg=np.abs(tilts),
    )


def _view(rng: np.random.Generator, number: int) -> View:
    setting = random_setting(rng)
    if number % 2:
        return render(setting)
    behind = cv2.resize(photograph(rng), setting.size_px)
    return render(setting, np.asarray(behind, dtype=np.uint8))


def find_in_absence(count: int, seed: int = SEED) -> list[int]:
    """Return the numbers of the pictures without a sheet in which one was found."""
    rng = np.random.default_rng(seed)
    pictures = (picture_without_sheet(number, rng) for number in range(count))
    found = [try_find(photo_of(picture)) is not None for picture in pictures]
    return [number for number, wrong in enumerate(found) if wrong]


def speed_ratio() -> tuple[float, float]:
    """Median time [s] to find the sheet in a 12 MP photo, and of `cv2.imread` on its JPEG."""
    setting = Setting(
        size_px=(4000, 3000), focal_px=3200, tilt_deg=12, tilt_axis_deg=70, roll_deg=3,
        width_share=0.5, noise=2, jpeg=90,
    )  # fmt: skip
    photo = render(setting).photo
    with tempfile.TemporaryDirectory() as folder:
        path = str(Path(folder) / "view.jpg")
        cv2.imwrite(path, photo.pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 90])
        finding, reading = [], []
        for _ in range(ROUNDS):
            start = perf_counter()
            find_sheet(photo)
            middle = perf_counter()
            cv2.imread(path)
            finding.append(middle - start)
            reading.append(perf_counter() - middle)
    return float(np.median(finding)), float(np.median(reading))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="40 views and 60 pictures, not 500")
    quick = parser.parse_args().quick
    finds = find_in_views(40 if quick else 500)
    pictures = 60 if quick else 500
    wrong = find_in_absence(pictures)
    finding_s, imread_s = speed_ratio()
    lines = (
        f"found in {finds.found} of {finds.views} views ({finds.found / finds.views:.1%})",
        _quantiles("mean error over the sheet [mm]", finds.mean_error_mm),
        _quantiles("largest error on the sheet [mm]", finds.largest_error_mm),
        _quantiles("mean error over the sheet [px]", finds.mean_error_px),
        _quantiles("tilt error [degrees]", finds.tilt_error_deg),
        f"tub tags missed {finds.tubs_missed}, misread {finds.tubs_wrong}",
        f"found in {len(wrong)} of {pictures} pictures without a sheet {wrong or ''}",
        f"12 MP: find_sheet {1e3 * finding_s:.0f} ms, cv2.imread {1e3 * imread_s:.0f} ms, "
        f"ratio {finding_s / imread_s:.2f}",
    )
    print("\n".join(lines))
    return int(finds.found < 0.99 * finds.views or bool(wrong) or finds.tubs_wrong > 0)


def _quantiles(name: str, values: NDArray[np.float64]) -> str:
    median, high, worst = np.quantile(values, [0.5, 0.99, 1])
    return f"{name}: median {median:.3f}, 99 % {high:.3f}, worst {worst:.3f}"


if __name__ == "__main__":
    sys.exit(main())
