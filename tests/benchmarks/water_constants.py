"""Derives the constants of shade and veil from path-traced stands, and judges them on others.

Run ``python -m tests.benchmarks.water_constants``: it reads the lamps `FITTED` through a plain
camera, finds what each of them has of its own, how that goes with the light on the coarse bars in
clear water, and prints beside it what other lamps have. What it reads is kept in `SAMPLES`, so
that a test can fit again.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from greasecheck.errors import WaterError
from greasecheck.measure.reading import ReadSettings, view_photo
from greasecheck.measure.water.attenuation import Jar
from greasecheck.measure.water.depths import light_on_coarse
from greasecheck.measure.water.light import added_veil
from greasecheck.measure.water.scatter import bar_factor
from greasecheck.reference.lookup import read_lookup
from tests.benchmarks.water_lamps import (
    OUTSIDE,
    PATH_MM,
    PLAIN,
    light_of,
    reference,
    take,
)
from tests.synthetic.path_tracer import series
from tests.synthetic.path_tracer.series import CLEAR, cases, lights

FITTED = ("bulb", "panel at 45", "two lamps", *series.FITTED)
VEIL_NAMES = ("VEIL_SIDEWAYS", "VEIL_BEND", "VEIL_ABSORBED", "VEIL_POWER")
LEAST_PER_M = 0.8  # fainter water says less than the renders' own noise
DEEPEST = 4.0  # optical depth from which noise in the bars' contrast counts
BARS_MM = (2.0, 8.0)
SAMPLES = Path(__file__).parents[1] / "synthetic" / "water_lamps" / "samples.csv"
HEADER = """\
# title: What a plain camera reads of path-traced stands in the lamps that constants are fitted to
# source: tests/benchmarks/water_constants.py, from rendered.npz and fitted.npz
# author: the greasecheck founders
# year: 2026
# doi: none
# licence: as the package
# units: lit is the natural logarithm of the light on the coarse bars in clear water, paper far \
from the jar = 1; depth is -ln of the light along the path against clear water; veil is a share of \
paper white; fine and coarse are -ln of the contrast that the bars keep
"""
COLUMNS = ("lit", "depth", "albedo", "asymmetry", "veil", "fine", "coarse")
VEIL_NOISE, VEIL_STD = 0.004, 0.12
DEPTH_NOISE, DEPTH_STD = 0.01, 0.03

Numbers = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One channel of one water: light on the bars in clear water, its truth, what is seen of it."""

    lit: float
    depth: float
    albedo: float
    asymmetry: float
    veil: float
    fine: float
    coarse: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnLight:
    """What one lamp has: light on the coarse bars, S of both fields, B and ln A."""

    lit: float
    shade: float
    coarse: float
    absorbed: float
    log_veil: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """How a constant goes with `lit`: its value at 0, its slope, and its leave-one-out error."""

    start: float
    slope: float
    std: float


def samples(light: str, folder: Path) -> list[Sample]:
    """Read all waters of a light through a plain camera; none where its reference is refused."""
    clear, *waters = [case for case in cases() if case.light == light]
    try:
        made = reference(light_of(clear), PLAIN, folder)
    except WaterError:
        return []
    settings, lit = ReadSettings(jar=Jar(clear=made, path_mm=PATH_MM)), light_on_coarse(made)
    assert lit is not None
    found = []
    for case in waters:
        photo = take(light_of(case), PLAIN, case.number, folder, f"water{case.number}")
        water = view_photo(photo, settings).water
        assert water is not None
        veil = added_veil(water.sight.fine, made.fine)
        fine, coarse = (
            -np.log(np.maximum(pair.ratio, np.exp(-2 * DEEPEST)))
            for pair in (water.sight.fine, water.sight.coarse)
        )
        for k in range(3):
            more = case.medium.extinction_per_m[k] - CLEAR.extinction_per_m[k]
            found.append(
                Sample(
                    lit=lit,
                    depth=more * PATH_MM / 1000,
                    albedo=case.medium.albedo[k],
                    asymmetry=case.medium.asymmetry,
                    veil=float(veil[k]),
                    fine=float(fine[k]),
                    coarse=float(coarse[k]),
                )
            )
    return [one for one in found if one.depth > LEAST_PER_M * PATH_MM / 1000]


def kept_samples() -> dict[str, list[Sample]]:
    """Return what was read of the lamps that the constants are fitted to."""
    found: dict[str, list[Sample]] = {}
    for row in read_lookup(SAMPLES).rows:
        one = Sample(**{name: float(row[name]) for name in COLUMNS})
        found.setdefault(row["lamp"], []).append(one)
    return found


def keep_samples(found: dict[str, list[Sample]]) -> None:
    """Write what was read of the lamps that the constants are fitted to."""
    rows = [
        ",".join([lamp, *(f"{getattr(one, name):.5g}" for name in COLUMNS)])
        for lamp, ones in found.items()
        for one in ones
    ]
    text = HEADER + "\n".join([",".join(("lamp", *COLUMNS)), *rows]) + "\n"
    SAMPLES.write_text(text, encoding="utf-8")


def own_shade(found: list[Sample], forward: float, saturation: float) -> tuple[Numbers, Numbers]:
    """Fit S of fine and of coarse bars, and B, to what both show; and the weighed residuals."""
    shallow = [one for one in found if max(one.fine, one.coarse) < DEEPEST]
    depth, albedo, asymmetry, fine, coarse = np.array(
        [(one.depth, one.albedo, one.asymmetry, one.fine, one.coarse) for one in shallow]
    ).T
    kept = [
        np.array([share * (1 - _factor(bar, one)) for one in shallow])
        for bar, share in zip(BARS_MM, (forward, 1.0), strict=True)
    ]
    aside = albedo * (1 - asymmetry) * depth
    turned, absorbed, none = aside / (1 + saturation * aside), (1 - albedo) * depth, 0 * depth
    shapes = np.concatenate(
        [np.stack([turned, none, absorbed], 1), np.stack([none, turned, absorbed], 1)]
    )
    seen = np.concatenate([fine, coarse])
    beyond = seen - np.concatenate([(1 - share) * depth for share in kept])
    weight = 1 / np.hypot(DEPTH_NOISE, DEPTH_STD * seen)
    own = np.linalg.lstsq(shapes * weight[:, None], beyond * weight, rcond=None)[0]
    return np.asarray(own), np.asarray((shapes @ own - beyond) * weight)


def _factor(bar_mm: float, one: Sample) -> float:
    attenuation = one.fine / (PATH_MM / 1000)
    return float(bar_factor(bar_mm, PATH_MM, np.array([one.asymmetry]), one.albedo, attenuation)[0])


def fit_shade(lamps: list[list[Sample]]) -> tuple[float, float]:
    """Fit FORWARD and SATURATION to all lamps, each with S and B of its own."""

    def residual(p: Numbers) -> Numbers:
        return np.concatenate([own_shade(found, p[0], p[1])[1] for found in lamps])

    bounds = ([0.0, 0.0], [1.5, 5.0])
    forward, saturation = least_squares(residual, [0.8, 0.8], bounds=bounds, loss="soft_l1").x
    return float(forward), float(saturation)


def veil_shape(found: list[Sample], constants: Numbers) -> Numbers:
    """Return the veil of each sample over A."""
    sideways, bend, absorbed, power = constants
    depth, albedo, asymmetry = np.array([(one.depth, one.albedo, one.asymmetry) for one in found]).T
    x = albedo * (1 - asymmetry) ** sideways * depth
    return np.asarray(x / (1 + bend * x + absorbed * (1 - albedo) * depth) ** power)


def fit_veil(lamps: list[list[Sample]]) -> tuple[Numbers, Numbers]:
    """Fit VEIL_SIDEWAYS, _BEND, _ABSORBED and _POWER to all lamps, and ln A of each."""
    together = [one for found in lamps for one in found]
    lamp = np.repeat(np.arange(len(lamps)), [len(found) for found in lamps])
    veil = np.maximum([one.veil for one in together], 1e-3)

    def residual(p: Numbers) -> Numbers:
        expected = np.log(veil_shape(together, p[:4])) + p[4:][lamp]
        return np.asarray((np.log(veil) - expected) / np.hypot(VEIL_STD, VEIL_NOISE / veil))

    start = [0.13, 0.3, 1.2, 2.5, *[-0.1] * len(lamps)]
    bounds = ([0, 0.02, 0.1, 0.5, *[-3] * len(lamps)], [1, 3, 5, 5, *[3] * len(lamps)])
    found = least_squares(residual, start, bounds=bounds, loss="soft_l1").x
    return np.asarray(found[:4]), np.asarray(found[4:])


def own_lights(
    lamps: list[list[Sample]], shade: tuple[float, float], log_veils: Numbers
) -> list[OwnLight]:
    """Return what each lamp has of its own."""
    found = []
    for ones, log_veil in zip(lamps, log_veils, strict=True):
        fine, coarse, absorbed = own_shade(ones, *shade)[0]
        found.append(
            OwnLight(
                lit=ones[0].lit,
                shade=float(fine),
                coarse=float(coarse),
                absorbed=float(absorbed),
                log_veil=float(log_veil),
            )
        )
    return found


def lines(own: list[OwnLight]) -> dict[str, Line]:
    """Fit how S of both fields, B and ln A go with the light on the coarse bars."""
    names = ("shade", "coarse", "absorbed", "log_veil")
    return {
        name.upper(): _line([one.lit for one in own], [getattr(one, name) for one in own])
        for name in names
    }


def _line(lit: list[float], values: list[float]) -> Line:
    table = np.stack([np.ones(len(lit)), lit], axis=1)
    inverse = np.linalg.pinv(table)
    start, slope = inverse @ values
    left_out = (values - table @ (start, slope)) / (1 - np.diag(table @ inverse))
    return Line(start=start, slope=slope, std=float(np.sqrt(np.mean(left_out**2))))


def row(light: str, own: OwnLight) -> str:
    """One line of a light."""
    values = (own.lit, own.shade, own.coarse, own.absorbed, own.log_veil)
    return f"{light:16s} " + " ".join(f"{value:6.2f}" for value in values)


def main() -> None:
    """Print the constants, then each light."""
    with TemporaryDirectory() as folder:
        keep_samples({light: samples(light, Path(folder)) for light in FITTED})
        fitted = kept_samples()
        lamps = list(fitted.values())
        shade, (veil, log_veils) = fit_shade(lamps), fit_veil(lamps)
        print(f"FORWARD {shade[0]:.3f}, SATURATION {shade[1]:.3f}")
        print(", ".join(f"{n} {v:.3f}" for n, v in zip(VEIL_NAMES, veil, strict=True)))
        own = own_lights(lamps, shade, log_veils)
        for name, line in lines(own).items():
            print(f"{name} {line.start:.3f} {line.slope:+.3f} lit, +- {line.std:.3f}")
        print("light               lit      S coarse      B   ln A")
        for light, one in zip(fitted, own, strict=True):
            print(row(light, one), " fitted", flush=True)
        for light in lights():
            if light not in (*FITTED, *OUTSIDE):
                ones = samples(light, Path(folder))
                gains = [np.log(max(one.veil, 1e-3)) for one in ones] - np.log(
                    veil_shape(ones, veil)
                )
                alone = own_lights([ones], shade, np.array([np.median(gains)]))[0]
                print(row(light, alone), flush=True)


if __name__ == "__main__":
    main()
