"""How well photos of bone beside the card are read: rendered scenes with truth.

Run `python -m tests.benchmarks.bone_scenes` (12 minutes of one core; `--part 1/4` a quarter;
`--sides` one skull from six sides and three distances; `--strays` a second lamp on the skull;
`--seed` other scenes). The renderer shares
nothing with the code that measures but the printed design of the card.
"""

from __future__ import annotations

import argparse
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from skimage.draw import polygon

from greasecheck.measure.bone.target import clean_bone
from greasecheck.measure.reading import ReadSettings, view_photo
from greasecheck.model import BoneState, Verdict
from tests.synthetic.bone_scene.scenes import SceneOrder, orders, photograph, stray_orders
from tests.synthetic.spectral_simulation import CAMERAS, printed_card

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from greasecheck.model import BoneReading, Reading
    from tests.synthetic.bone_scene.scenes import BonePhoto

TIMELESS = "time_from_camera"  # rendered photos carry no time; their verdict is that without it


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One photo: its verdict except for its time, and how far its figures are off."""

    order: SceneOrder
    verdict: Verdict
    reasons: tuple[str, ...]
    yi_error: float = np.nan
    yi_std: float = np.nan
    share_error: float = np.nan
    share_std: float = np.nan
    overlap: float = np.nan

    @property
    def errors_off(self) -> float:
        """Return by how many stated errors the yellowness is off."""
        return abs(self.yi_error) / self.yi_std


def try_scene(order: SceneOrder, folder: Path) -> Trial:
    """Render a scene, read its photo and compare."""
    photo = photograph(order)
    path = folder / "scene.jpg"
    path.write_bytes(photo.jpeg)
    settings = ReadSettings(values=printed_card().measured, bone_state=BoneState.DRY, tub=1)
    return compare(photo, view_photo(path, settings).reading)


def compare(photo: BonePhoto, reading: Reading) -> Trial:
    """Compare a reading with the truth."""
    failed = [row for row in reading.checks if not row.passed and row.name != TIMELESS]
    hard = any(row.hard for row in failed)
    verdict = Verdict.REFUSED if hard else Verdict.DOUBTFUL if failed else Verdict.GOOD
    plain = Trial(order=photo.order, verdict=verdict, reasons=tuple(row.name for row in failed))
    bone = reading.bone
    if bone is None or not len(photo.yellowness):
        return plain
    limit = clean_bone().yellow_limit(photo.yellowness)
    return replace(
        plain,
        yi_error=bone.yi_e313 - float(np.median(photo.yellowness)),
        yi_std=bone.yi_std,
        share_error=bone.yellow_patch_share - float((photo.yellowness > limit).mean()),
        share_std=bone.yellow_share_std,
        overlap=_overlap(bone, photo.bone),
    )


def _overlap(bone: BoneReading, truth: NDArray[np.bool_]) -> float:
    """Intersection over union of the outlines told with where bone is seen.

    A pixel lies in an outline when its centre does: `cv2.fillPoly` takes in half a pixel more.
    """
    found = np.zeros(truth.shape, np.bool_)
    for piece in bone.pieces:
        found |= _inside(piece.outline_px, truth.shape)
        for hole in piece.holes_px:
            found &= ~_inside(hole, truth.shape)
    return float((found & truth).sum() / (found | truth).sum())


def _inside(outline_px: Sequence[tuple[float, float]], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    canvas = np.zeros(shape, np.bool_)
    columns, rows = np.array(outline_px).T
    canvas[polygon(rows, columns, shape)] = True
    return canvas


def sides() -> tuple[SceneOrder, ...]:
    """Return one skull from six sides and three distances."""
    base = SceneOrder(
        name="", kind="thin arches", length_mm=200.0, light="panel", camera=CAMERAS[2],
        seed=77, grease=0.35,
    )  # fmt: skip
    return tuple(
        replace(
            base,
            name=f"{distance:.0f} mm, from {azimuth:.0f} deg",
            azimuth_deg=azimuth,
            tilt_deg=32.0,
            distance_mm=distance,
        )
        for distance in (600.0, 950.0, 1500.0)
        for azimuth in np.arange(0.0, 360.0, 60.0)
    )


def print_trials(trials: Sequence[Trial]) -> None:
    """Print a line for each scene, then the summary."""
    for one in trials:
        print(
            f"{one.order.name:42s} {one.verdict:8s} YI {one.yi_error:+5.1f} ± {one.yi_std:4.1f}"
            f"  share {one.share_error:+.2f} ± {one.share_std:.2f}  IoU {one.overlap:.3f}"
            f"  {', '.join(one.reasons)}"
        )
    real = [one for one in trials if not one.order.odd]
    good = [one for one in real if one.verdict is Verdict.GOOD]
    odd = [one for one in trials if one.order.odd]
    for name, group in (("all with bone", real), ("good", good)):
        read = [one for one in group if np.isfinite(one.yi_error)]
        if read:
            print(f"{name}: {len(read)} of {len(real)} read; {_figures(read)}")
    if odd:
        wrong = sum(one.verdict is Verdict.GOOD for one in odd)
        print(f"no bone, two skulls, hand, white cloth: {wrong} of {len(odd)} called good")


def _figures(trials: Sequence[Trial]) -> str:
    errors, overlap, off = (
        np.array([getattr(one, name) for one in trials])
        for name in ("yi_error", "overlap", "errors_off")
    )
    shares = np.abs([one.share_error for one in trials])
    near = (shares <= 0.05).mean()
    return (
        f"YI rms {np.sqrt(np.mean(errors**2)):.2f}, share within 5 points {near:.0%}"
        f" (rms {np.sqrt(np.mean(shares**2)):.3f}), IoU median {np.median(overlap):.3f},"
        f" 1 in 10 {np.quantile(overlap, 0.1):.3f}; over 3 stated errors {(off > 3).sum()},"
        f" over 5 {(off > 5).sum()}, rms {np.sqrt(np.mean(off**2)):.2f}"
    )


def main() -> None:
    """Render, read and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--part", default="1/1", help="such as 2/4")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--sides", action="store_true")
    parser.add_argument("--strays", action="store_true")
    told = parser.parse_args()
    part, parts = map(int, told.part.split("/"))
    plain = stray_orders if told.strays else orders
    chosen = sides() if told.sides else plain(told.seed)
    with tempfile.TemporaryDirectory() as folder:
        print_trials([try_scene(one, Path(folder)) for one in chosen[part - 1 :: parts]])


if __name__ == "__main__":
    main()
