"""Renders the photographs of known waters for the benchmark, with their truth tables.

Run ``python -m sample_images.render_water [LIGHT]``; photographs that exist are kept. The usual
light is that of the sample images. The others were first rendered when the measuring was finished,
so that they test it on light it has not seen.
"""

from __future__ import annotations

import csv
import sys
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from sample_images.camera import BALANCE, garage_camera
from sample_images.compose import Bench, Samples, render_bench, render_linear
from sample_images.scene import Light, Stand, View, Water, use_threads
from tests.synthetic.camera import expose, jpeg

FOLDER = Path(__file__).parent.parent / "tests" / "synthetic"
VIEW = View(
    origin=(118.0, 75.0, 700.0), target=(130.0, 98.0, 0.0), fov_deg=23.4, size_px=(1280, 960)
)
TUB = 10
REFERENCE_PER_M = 0.3
START = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """Waters photographed in one light; the first of them is the reference.

    Attributes
    ----------
    folder : str
        Where the photographs are.
    waters : tuple of (float, float, float)
        Extinction [1/m], albedo and g of each.
    light : Light
        On the stand.
    exposure : float
        Factor that brings the paper below white.
    balance : tuple of float
        Colour of the light on the sheet.
    """

    folder: str
    waters: tuple[tuple[float, float, float], ...]
    light: Light = field(default_factory=Light)
    exposure: float = 1.8
    balance: tuple[float, float, float] = BALANCE

    def cases(self) -> list[Case]:
        """Return the reference and the waters, the most wanted first."""
        return [
            Case(extinction_per_m=c, albedo=albedo, g=g, number=number)
            for number, (c, albedo, g) in enumerate(((REFERENCE_PER_M, 0.95, 0.9), *self.waters))
        ]


USUAL = (
    *((c, 0.95, 0.9) for c in (5.0, 20.0, 60.0, 2.0, 10.0, 40.0, 0.5, 1.0, 150.0)),
    *((c, 0.95, g) for c in (5.0, 20.0, 40.0, 60.0, 2.0, 0.5) for g in (0.8, 0.95)),
    *((c, 0.8, 0.9) for c in (5.0, 40.0)),
    *((c, 0.95, g) for c in (10.0, 1.0) for g in (0.8, 0.95)),
)
UNSEEN = ((15.0, 0.95, 0.9), (4.0, 0.95, 0.9), (45.0, 0.95, 0.9), (15.0, 0.9, 0.85))
SERIES = {
    "usual": Series(folder="water_renders", waters=USUAL),
    "front": Series(  # a smaller lamp before the stand, hardly above the camera, in a dim room
        folder="water_renders_front",
        waters=UNSEEN,
        light=Light(
            room=(0.20, 0.20, 0.21),
            lamp=(6.0, 5.2, 4.1),
            lamp_centre=(150.0, -420.0, 900.0),
            lamp_half_mm=(260.0, 200.0),
        ),
    ),
    "window": Series(  # an overcast window at the left, a bright room
        folder="water_renders_window",
        waters=UNSEEN,
        light=Light(
            room=(0.60, 0.62, 0.66),
            lamp=(1.5, 1.6, 1.75),
            lamp_centre=(-750.0, -250.0, 650.0),
            lamp_half_mm=(420.0, 520.0),
        ),
        balance=(1.0, 1.0, 1.0),
    ),
}


def stand(case: Case, light: Light) -> Stand:
    """Return the bench with the case's water."""
    water = Water(extinction_per_m=(case.extinction_per_m,) * 3, albedo=case.albedo, g=case.g)
    return Stand(water=water, tag=TUB, light=light)


def render(case: Case, series: Series, bench: Bench, samples: Samples) -> None:
    """Render one photograph into its folder."""
    light = render_linear(stand(case, series.light), VIEW, bench, samples, seed=1000 * case.number)
    camera = garage_camera(series.balance)
    picture = expose(light.astype(np.float32), camera, series.exposure, case.number)
    path = FOLDER / series.folder / case.file
    path.write_bytes(jpeg(picture, camera, case.taken_at))


def write_truth(folder: Path, rows: list[Case]) -> None:
    """Write the truth table of the photographs that exist."""
    with (folder / "truth.csv").open("w", encoding="utf-8", newline="") as file:
        file.writelines(f"# {key}: {value}\n" for key, value in HEADER.items())
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        for case in rows:
            role = "sample" if case.number else "reference"
            writer.writerow([case.file, TUB, case.taken_at.isoformat(), case.extinction_per_m,
                             case.albedo, case.g, role])  # fmt: skip


def main(name: str) -> None:
    """Render the missing photographs of a series."""
    use_threads(1)
    series = SERIES[name]
    folder = FOLDER / series.folder
    folder.mkdir(parents=True, exist_ok=True)
    clear = stand(series.cases()[0], series.light)
    bench = Bench(light=render_bench(clear, VIEW, Samples(), seed=7), stand=clear)
    for case in series.cases():
        if not (folder / case.file).exists():
            render(case, series, bench, Samples())
            write_truth(folder, [row for row in series.cases() if (folder / row.file).exists()])


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "usual")
