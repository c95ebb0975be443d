"""Renders the photographs of known waters for the benchmark, with their truth table.

Run ``python -m sample_images.render_water``; photographs that exist are kept.
"""

from __future__ import annotations

import csv
import sys
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sample_images.camera import Shot, photograph, save
from sample_images.compose import Bench, Samples, render_bench, render_linear
from sample_images.scene import Stand, View, Water, use_threads

FOLDER = Path(__file__).parent.parent / "tests" / "synthetic" / "water_renders"
VIEW = View(
    origin=(118.0, 75.0, 700.0), target=(130.0, 98.0, 0.0), fov_deg=23.4, size_px=(1280, 960)
)
TUB = 10
REFERENCE_PER_M = 0.3
START = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)
EXPOSURE = 1.8
BALANCE = (1.0, 0.875, 0.765)  # the light on the sheet; the camera's white balance is fixed
HEADER = {
    "title": "path-traced photographs of known waters",
    "source": "sample_images/render_water.py, volumetric path tracing with Mitsuba 3",
    "author": "the greasecheck founders",
    "year": "2026",
    "doi": "none: simulated",
    "licence": "MIT",
    "units": "extinction_per_m in 1/m of the true beam attenuation, absolute; albedo and g in 1; "
    "path 60 mm; the reference water has 0.3 per metre",
}
COLUMNS = ("file", "tub", "taken_at", "extinction_per_m", "albedo", "g", "role")


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One water of the series, and its place in the day."""

    extinction_per_m: float
    albedo: float
    g: float
    number: int

    @property
    def file(self) -> str:
        """Name of its photograph."""
        if self.number == 0:
            return "reference.jpg"
        tenths, g, albedo = (round(v) for v in (self.extinction_per_m * 10, self.g * 100,
                                                self.albedo * 100))  # fmt: skip
        return f"c{tenths:04d}_g{g}_a{albedo}.jpg"

    @property
    def taken_at(self) -> datetime:
        """Invented time of the photograph."""
        return START + timedelta(minutes=2 * self.number)


def cases() -> list[Case]:
    """Return the reference and the series, the most wanted first."""
    waters = [(REFERENCE_PER_M, 0.95, 0.9)]
    waters += [(c, 0.95, 0.9) for c in (5.0, 20.0, 60.0, 2.0, 10.0, 40.0, 0.5, 1.0, 150.0)]
    waters += [(c, 0.95, g) for c in (5.0, 20.0, 40.0, 60.0, 2.0, 0.5) for g in (0.8, 0.95)]
    waters += [(c, 0.8, 0.9) for c in (5.0, 40.0)]
    waters += [(c, 0.95, g) for c in (10.0, 1.0) for g in (0.8, 0.95)]
    return [
        Case(extinction_per_m=c, albedo=albedo, g=g, number=number)
        for number, (c, albedo, g) in enumerate(waters)
    ]


def stand(case: Case) -> Stand:
    """Return the bench with the case's water."""
    water = Water(extinction_per_m=(case.extinction_per_m,) * 3, albedo=case.albedo, g=case.g)
    return Stand(water=water, tag=TUB)


def render(case: Case, bench: Bench, samples: Samples) -> None:
    """Render one photograph into the folder."""
    light = render_linear(stand(case), VIEW, bench, samples, seed=1000 * case.number)
    shot = Shot(exposure=EXPOSURE, balance=BALANCE, taken_at=case.taken_at, seed=case.number)
    save(photograph(light, shot), shot, FOLDER / case.file)


def write_truth(rows: list[Case]) -> None:
    """Write the truth table of the photographs that exist."""
    with (FOLDER / "truth.csv").open("w", encoding="utf-8", newline="") as file:
        file.writelines(f"# {key}: {value}\n" for key, value in HEADER.items())
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        for case in rows:
            role = "sample" if case.number else "reference"
            writer.writerow([case.file, TUB, case.taken_at.isoformat(), case.extinction_per_m,
                             case.albedo, case.g, role])  # fmt: skip


def main(limit: int) -> None:
    """Render up to the given number of missing photographs."""
    use_threads(1)
    FOLDER.mkdir(parents=True, exist_ok=True)
    clear = stand(cases()[0])
    bench = Bench(light=render_bench(clear, VIEW, Samples(), seed=7), stand=clear)
    missing = [case for case in cases() if not (FOLDER / case.file).exists()]
    for case in missing[:limit]:
        render(case, bench, Samples())
        write_truth([row for row in cases() if (FOLDER / row.file).exists()])


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
