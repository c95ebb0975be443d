"""Attenuation read from path-traced photographs against the attenuation they were made with.

Run ``python -m tests.benchmarks.water_accuracy``. Attenuations are above that of the reference
water, as the tool reports them. The usual light is that by which the constants of shade and veil
were chosen; front and window are other lights, rendered when the measuring was finished.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from greasecheck.measure.reading import ReadSettings, view_photo
from greasecheck.measure.stand import view_clear_water
from greasecheck.measure.water.attenuation import Jar
from greasecheck.measure.water.reference import ClearWater, make_clear_water
from greasecheck.model import Reading
from greasecheck.reference.lookup import LookupTable, read_lookup

FOLDER = Path(__file__).parent.parent / "synthetic"
LIGHTS = {
    "usual": "water_renders",
    "front": "water_renders_front",
    "window": "water_renders_window",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One photograph of known water, as read.

    `true_per_m` is the attenuation above that of the reference water [1/m].
    """

    file: str
    true_per_m: float
    albedo: float
    g: float
    reading: Reading

    @property
    def error_per_m(self) -> float:
        """Attenuation read less the true one [1/m]."""
        assert self.reading.water is not None
        return self.reading.water.main_per_m - self.true_per_m

    @property
    def error_std(self) -> float:
        """Error in stated standard errors."""
        assert self.reading.water is not None
        return self.error_per_m / self.reading.water.std_per_m


def reference(folder: Path, table: LookupTable) -> ClearWater:
    """Make the clear-water reference from its photograph."""
    file = table.texts("file")[table.texts("role").index("reference")]
    seen = view_clear_water(folder / file, ReadSettings(), tap_water=True)
    return make_clear_water([seen], 60.0)


def read_cases(light: str = "usual") -> tuple[Case, ...]:
    """Read every photograph taken in a light."""
    folder = FOLDER / LIGHTS[light]
    table = read_lookup(folder / "truth.csv")
    settings = ReadSettings(jar=Jar(clear=reference(folder, table)))
    columns = [table.numbers(name) for name in ("extinction_per_m", "albedo", "g")]
    clear = columns[0][table.texts("role").index("reference")]
    return tuple(
        Case(
            file=file,
            true_per_m=float(extinction - clear),
            albedo=float(albedo),
            g=float(g),
            reading=view_photo(folder / file, settings).reading,
        )
        for file, role, extinction, albedo, g in zip(
            table.texts("file"), table.texts("role"), *columns, strict=True
        )
        if role != "reference"
    )


def line(case: Case) -> str:
    """One line of the table."""
    water = case.reading.water
    head = f"{case.true_per_m:8.2f} {case.albedo:6.2f} {case.g:5.2f}"
    if water is None:
        return f"{head}  {case.reading.verdict}"
    bound = water.bound or ""
    ratio = "" if water.forward_scatter is None else f"{water.forward_scatter:.2f}"
    return (
        f"{head} {water.main_per_m:8.2f} {water.std_per_m:6.2f} {bound:>6} "
        f"{case.error_std:7.1f} {ratio:>6}  {case.reading.verdict}"
    )


def main() -> None:
    """Print a table for each light."""
    for light in LIGHTS:
        print(f"{light} light\n    true albedo     g     read    std  bound err/std ratio  verdict")
        cases = read_cases(light)
        for case in sorted(cases, key=lambda case: (case.albedo, case.g, case.true_per_m)):
            print(line(case))


if __name__ == "__main__":
    main()
