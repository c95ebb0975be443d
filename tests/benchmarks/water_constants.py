"""Derives the constants of shade and veil from path-traced stands, and judges them on others.

Run ``python -m tests.benchmarks.water_constants``: it reads three lamps (`FITTED`) through a plain
camera, fits the forms of `greasecheck/measure/water/spectral.py`, and prints beside them what all
other lights have. What it reads of the three is kept in `SAMPLES`, so that a test can fit again.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from greasecheck.measure.colour.model import fit_colour
from greasecheck.measure.photo.load import load_photo
from greasecheck.measure.sheet.find import find_sheet
from greasecheck.measure.sight.view import SightView, look_at_sight
from greasecheck.model import Box
from greasecheck.reference import known_sheets
from greasecheck.reference.lookup import read_lookup
from greasecheck.reference.patches.values import nominal_values
from tests.benchmarks.water_lamps import PATH_MM, PLAIN, light_of, rendered, take
from tests.synthetic.path_tracer.series import CLEAR, Case, cases, lights
from tests.synthetic.path_tracer.stand import NEAR, PITCH_MM

FITTED = ("bulb", "panel at 45", "two lamps")
SHADE_NAMES = ("ABSORBED", "SATURATION", "SHADE")
VEIL_NAMES = (
    "VEIL_SIDEWAYS",
    "VEIL_BEND",
    "VEIL_ABSORBED",
    "VEIL_POWER",
    "LOG_VEIL",
)
LEAST_PER_M = 0.8  # fainter water says less than the renders' own noise
SAMPLES = Path(__file__).parents[1] / "synthetic" / "water_lamps" / "samples.csv"
HEADER = """\
# title: What a plain camera reads of path-traced stands in the lamps that constants are fitted to
# source: tests/benchmarks/water_constants.py, from rendered.npz
# author: the greasecheck founders
# year: 2026
# doi: none
# licence: as the package
# units: depth is -ln of the light along the path against clear water; veil is a share of paper \
white; light and coarse_light are natural logarithms of the light on fine and coarse bars against \
clear water
"""
COLUMNS = ("dark", "depth", "albedo", "asymmetry", "veil", "light", "coarse_light")
VEIL_NOISE, VEIL_STD = 0.004, 0.12
LIGHT_NOISE, LIGHT_STD = 0.02, 0.10

Numbers = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One channel of one water: its truth, its veil, and the light on the fine bars.

    `light` and `coarse_light` are logarithms against clear water.
    """

    dark: float
    depth: float
    albedo: float
    asymmetry: float
    veil: float
    light: float
    coarse_light: float


def samples(light: str, folder: Path) -> list[Sample]:
    """Read all waters of a light through a plain camera."""
    clear, *waters = [case for case in cases() if case.light == light]
    at_first, lit = _view(clear, folder), _light_on_bars(clear)
    found = []
    for case in waters:
        sight, here = _view(case, folder), _light_on_bars(case)
        veil = sight.fine.veil - at_first.fine.veil
        change = np.log(here / lit)
        assert at_first.shade is not None
        for k in range(3):
            more = case.medium.extinction_per_m[k] - CLEAR.extinction_per_m[k]
            found.append(
                Sample(
                    dark=at_first.shade.dark,
                    depth=more * PATH_MM / 1000,
                    albedo=case.medium.albedo[k],
                    asymmetry=case.medium.asymmetry,
                    veil=float(veil[k]),
                    light=float(change[0, k]),
                    coarse_light=float(change[1, k]),
                )
            )
    return [one for one in found if one.depth > LEAST_PER_M * PATH_MM / 1000]


def kept_samples() -> dict[str, list[Sample]]:
    """Return what was read of the lamps that the constants are fitted to."""
    found: dict[str, list[Sample]] = {light: [] for light in FITTED}
    for row in read_lookup(SAMPLES).rows:
        found[row["lamp"]].append(Sample(**{name: float(row[name]) for name in COLUMNS}))
    return found


def keep_samples(found: dict[str, list[Sample]]) -> None:
    """Write what was read of the lamps that the constants are fitted to."""
    rows = [
        ",".join([lamp, *(f"{getattr(one, name):.6g}" for name in COLUMNS)])
        for lamp, ones in found.items()
        for one in ones
    ]
    text = HEADER + "\n".join([",".join(("lamp", *COLUMNS)), *rows]) + "\n"
    SAMPLES.write_text(text, encoding="utf-8")


def _view(case: Case, folder: Path) -> SightView:
    photo = load_photo(take(light_of(case), PLAIN, case.number, folder, "photo"))
    placement = find_sheet(photo)
    colour = fit_colour(photo, placement, nominal_values(placement.geometry))
    return look_at_sight(photo, placement, colour)


def _light_on_bars(case: Case) -> Numbers:
    """Mean irradiance on the fine and on the coarse bars, shape (2, 3)."""
    near = rendered(case).near.astype(np.float64)
    sight = known_sheets()[-1].sight
    return np.stack([_mean_in(near, box) for box in (sight.wet_fine, sight.wet_coarse)])


def _mean_in(near: Numbers, box: Box) -> Numbers:
    step = PITCH_MM / 2
    left, top = round((box.x_mm - NEAR[0]) / step), round((box.y_mm - NEAR[2]) / step)
    across, down = round(box.width_mm / step), round(box.height_mm / step)
    return np.asarray(near[top : top + down, left : left + across].mean(axis=(0, 1)))


def shade_shape(found: list[Sample], absorbed: float, saturation: float) -> Numbers:
    """Return the logarithm of light lost by each sample over S."""
    depth, albedo, asymmetry = np.array([(one.depth, one.albedo, one.asymmetry) for one in found]).T
    aside = albedo * (1 - asymmetry) * depth
    return np.asarray(aside / (1 + saturation * aside) + absorbed * (1 - albedo) * depth)


def veil_shape(found: list[Sample], constants: Numbers) -> Numbers:
    """Return the veil of each sample over A."""
    sideways, bend, absorbed, power = constants
    depth, albedo, asymmetry = np.array([(one.depth, one.albedo, one.asymmetry) for one in found]).T
    x = albedo * (1 - asymmetry) ** sideways * depth
    return np.asarray(x / (1 + bend * x + absorbed * (1 - albedo) * depth) ** power)


def fit_shade(found: list[Sample]) -> Numbers:
    """Fit ABSORBED, SATURATION and S."""
    lost = -np.array([one.light for one in found])

    def residual(p: Numbers) -> Numbers:
        expected = p[2] * shade_shape(found, p[0], p[1])
        return np.asarray((expected - lost) / np.hypot(LIGHT_NOISE, LIGHT_STD * lost))

    return np.asarray(least_squares(residual, [1.3, 0.4, 1.0], loss="soft_l1").x)


def fit_veil(found: list[Sample]) -> Numbers:
    """Fit VEIL_SIDEWAYS, _BEND, _ABSORBED, _POWER, and ln A."""
    veil = np.maximum([one.veil for one in found], 1e-3)

    def residual(p: Numbers) -> Numbers:
        expected = np.log(veil_shape(found, p[:4])) + p[4]
        return np.asarray((np.log(veil) - expected) / np.hypot(VEIL_STD, VEIL_NOISE / veil))

    start = [0.13, 0.3, 1.2, 2.5, -0.2]
    bounds = ([0, 0.02, 0.1, 0.5, -3], [1, 3, 5, 5, 3])
    return np.asarray(least_squares(residual, start, bounds=bounds, loss="soft_l1").x)


def shade_of(found: list[Sample], shade: Numbers) -> tuple[float, float]:
    """Return a light's own S, and that of the coarse bars over it."""
    shape = shade_shape(found, shade[0], shade[1])
    lost = -np.array([one.light for one in found])
    coarse = -np.array([one.coarse_light for one in found])
    weight = shape / np.hypot(LIGHT_NOISE, LIGHT_STD * lost) ** 2
    own = float(weight @ lost / (weight @ shape))
    return own, float(weight @ coarse / (weight @ shape)) / own


def judge(light: str, found: list[Sample], shade: Numbers, veil: Numbers) -> str:
    """One line of a light: its own S, that of the coarse bars over it, its own A and its spread."""
    own, coarse = shade_of(found, shade)
    gain = np.log(np.maximum([one.veil for one in found], 1e-3) / veil_shape(found, veil[:4]))
    return (
        f"{light:16s} {found[0].dark:5.2f} {own:6.2f} {coarse:6.2f} {np.exp(np.median(gain)):6.2f} "
        f"{np.std(gain):6.2f}  {'fitted' if light in FITTED else ''}"
    )


def main() -> None:
    """Print the constants, then each light."""
    with TemporaryDirectory() as folder:
        fitted = {light: samples(light, Path(folder)) for light in FITTED}
        keep_samples(fitted)
        together = [one for ones in fitted.values() for one in ones]
        shade, veil = fit_shade(together), fit_veil(together)
        for names, values in ((SHADE_NAMES, shade), (VEIL_NAMES, veil)):
            pairs = zip(names, values, strict=True)
            print(", ".join(f"{name} {value:.3f}" for name, value in pairs), flush=True)
        print("light             dark      S coarse      A spread")
        for light in lights():
            ones = fitted.get(light) or samples(light, Path(folder))
            print(judge(light, ones, shade, veil), flush=True)


if __name__ == "__main__":
    main()
