"""How surely, exactly and quickly the sheet is found: `python -m tests.benchmarks.sheet_finding`.

Found: random views inside the stated limits (tilt to 35 degrees, any turn, width from 15 % of the
frame, uneven light, mild blur, noise, JPEG, a corner marker hidden in a quarter of them).
Absent: pictures without a sheet, scikit-image's own among them.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter

import cv2
import numpy as np

from greasecheck.errors import SheetError
from greasecheck.measure.sheet.find import find_sheet
from greasecheck.model import Photo, Placement
from tests.synthetic.pictures import photograph, picture_without_sheet
from tests.synthetic.views import Setting, View, photo_of, random_setting, render

SEED = 20261125
ROUNDS = 9


@dataclass(frozen=True, slots=True, kw_only=True)
class Find:
    """A sheet found in a view; errors over points all over the sheet."""

    tub_misread: bool
    tub_missed: bool
    mean_error_mm: float
    largest_error_mm: float
    mean_error_px: float
    tilt_error_deg: float


def try_find(photo: Photo) -> Placement | None:
    """Find the sheet; None where it is refused."""
    try:
        return find_sheet(photo)
    except SheetError:
        return None


def find_in_views(count: int, seed: int = SEED) -> list[Find]:
    """Find the sheet in random views; half of them before clutter, half before a photograph."""
    rng = np.random.default_rng(seed)
    finds = (_find(_view(rng, number)) for number in range(count))
    return [find for find in finds if find is not None]


def _find(view: View) -> Find | None:
    placement = try_find(view.photo)
    if placement is None:
        return None
    error_mm = view.error_mm(placement.homography, placement.lens)
    return Find(
        tub_misread=placement.tub not in {view.setting.tub, None},
        tub_missed=view.setting.tub is not None and placement.tub is None,
        mean_error_mm=float(error_mm.mean()),
        largest_error_mm=float(error_mm.max()),
        mean_error_px=float(error_mm.mean()) * placement.pixels_per_mm,
        tilt_error_deg=abs(placement.tilt_deg - view.setting.tilt_deg),
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
    """Print what was found, how exactly and how quickly."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="40 views and 60 pictures, not 500")
    quick = parser.parse_args().quick
    views, pictures = (40, 60) if quick else (500, 500)
    finds = find_in_views(views)
    wrong = find_in_absence(pictures)
    finding_s, imread_s = speed_ratio()
    misread = sum(find.tub_misread for find in finds)
    lines = (
        f"found in {len(finds)} of {views} views ({len(finds) / views:.1%})",
        _quantiles("mean error over the sheet [mm]", [find.mean_error_mm for find in finds]),
        _quantiles("largest error on the sheet [mm]", [find.largest_error_mm for find in finds]),
        _quantiles("mean error over the sheet [px]", [find.mean_error_px for find in finds]),
        _quantiles("tilt error [degrees]", [find.tilt_error_deg for find in finds]),
        f"tub tags missed {sum(find.tub_missed for find in finds)}, misread {misread}",
        f"found in {len(wrong)} of {pictures} pictures without a sheet {wrong or ''}",
        f"12 MP: find_sheet {1e3 * finding_s:.0f} ms, cv2.imread {1e3 * imread_s:.0f} ms, "
        f"ratio {finding_s / imread_s:.2f}",
    )
    print("\n".join(lines))
    return int(len(finds) < 0.99 * views or bool(wrong) or misread > 0)


def _quantiles(name: str, values: Sequence[float]) -> str:
    median, high, worst = np.quantile(values, [0.5, 0.99, 1])
    return f"{name}: median {median:.3f}, 99 % {high:.3f}, worst {worst:.3f}"


if __name__ == "__main__":
    sys.exit(main())
