"""Derives the constants of shade and veil of sheets of version 1 from path-traced stands.

Run ``python -m tests.benchmarks.first_sheet_constants``: it reads the photographs of one lamp
(`tests/synthetic/water_renders`), whose waters are known, and prints each constant as fitted beside
the one in the package. The two other lamps are left to judge by (`water_accuracy`).
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from greasecheck.measure.reading import ReadSettings, view_photo
from greasecheck.measure.sight.view import MAIN_CHANNEL, FieldPair
from greasecheck.measure.water import albedo, light, scatter
from greasecheck.measure.water.attenuation import Jar, WaterView
from greasecheck.measure.water.reference import ClearWater, FieldReference
from greasecheck.reference import known_sheets
from greasecheck.reference.lookup import read_lookup
from tests.benchmarks.water_accuracy import FOLDER, LIGHTS, reference

PATH_MM = 60.0
LEAST_PER_M, MOST_PER_M = 1.5, 70.0  # clearer water says little, murkier hides the bars

Numbers = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """What the bars of both widths, the fine ones first, show of one known water.

    Attributes
    ----------
    more_per_m : float
        Attenuation above that of the reference water [1/m].
    albedo, asymmetry : float
        Of the water.
    kept, white : ndarray, shape (2,)
        Share of the contrast, and of the white bars' light, that clear water leaving 1 is left.
    veil : float
        Light added to the fine bars, paper white = 1.
    """

    more_per_m: float
    albedo: float
    asymmetry: float
    kept: Numbers
    white: Numbers
    veil: float


def samples() -> tuple[list[Sample], ClearWater]:
    """Read the photographs of the lamp that the constants come from."""
    folder = FOLDER / LIGHTS["usual"]
    table = read_lookup(folder / "truth.csv")
    clear = reference(folder, table)
    settings = ReadSettings(jar=Jar(clear=clear))
    waters = np.transpose([table.numbers(name) for name in ("extinction_per_m", "albedo", "g")])
    at_first = waters[table.texts("role").index("reference"), 0]
    found = [
        _sample(_view(folder / file, settings), water - (at_first, 0.0, 0.0), clear)
        for file, water in zip(table.texts("file"), waters, strict=True)
        if LEAST_PER_M < water[0] - at_first < MOST_PER_M
    ]
    return found, clear


def _view(path: Path, settings: ReadSettings) -> WaterView:
    view = view_photo(path, settings).water
    assert view is not None
    return view


def _sample(view: WaterView, water: Numbers, clear: ClearWater) -> Sample:
    fields = ((view.sight.fine, clear.fine), (view.sight.coarse, clear.coarse))
    return Sample(
        more_per_m=float(water[0]),
        albedo=float(water[1]),
        asymmetry=float(water[2]),
        kept=np.array([pair.ratio[MAIN_CHANNEL] for pair, _ in fields]),
        white=np.array([_white_left(*field) for field in fields]),
        veil=float(view.sight.fine.veil[MAIN_CHANNEL] * clear.fine.mean_ratio[MAIN_CHANNEL]),
    )


def _white_left(pair: FieldPair, then: FieldReference) -> float:
    """Return the light of white bars over that in clear water, in the main channel."""
    assert then.levels is not None
    now = pair.levels.white_kept[MAIN_CHANNEL] * then.mean_ratio[MAIN_CHANNEL]
    return float(now / then.levels.white_kept[MAIN_CHANNEL])


def fit_light_lost(found: list[Sample]) -> dict[str, float]:
    """Fit the light that white bars lose in proportion to the contrast lost, in milky water."""
    milky = [one for one in found if one.albedo == albedo.USUAL_ALBEDO]
    lost = 1 - np.stack([one.kept for one in milky])
    dimmed = 1 - np.stack([one.white for one in milky])
    fine, coarse = (lost * dimmed).sum(axis=0) / (lost**2).sum(axis=0)
    return {"FINE_LOSS": float(fine), "COARSE_LOSS": float(coarse)}


def fit_bright(found: list[Sample]) -> dict[str, float]:
    """Find the largest gain of light over usual milky water, for each share of contrast lost."""
    milky = [one for one in found if one.albedo == albedo.USUAL_ALBEDO]
    losses = light.FINE_LOSS, light.COARSE_LOSS
    gains = [
        -light.dim_depths(one.white[[k]], one.kept[[k]], loss)[0] - light.DIM_TOLERANCE
        for one in milky
        for k, loss in enumerate(losses)
    ]
    lost = [1 - kept for one in milky for kept in one.kept]
    return {"BRIGHT_TOLERANCE_LOST": float(np.max(np.divide(gains, lost)))}


def fit_veil(found: list[Sample]) -> dict[str, float]:
    """Fit ln veil = ln USUAL_VEIL + VEIL_POWER ln lost + (albedo - usual) / ALBEDO_PER_LOG_VEIL."""
    columns = [(1.0, np.log(1 - one.kept[0]), one.albedo - albedo.USUAL_ALBEDO) for one in found]
    log_veil, power, per_albedo = np.linalg.lstsq(
        np.array(columns), np.log([one.veil for one in found]), rcond=None
    )[0]
    return {
        "VEIL_POWER": float(power),
        "USUAL_VEIL": float(np.exp(log_veil)),
        "ALBEDO_PER_LOG_VEIL": float(1 / per_albedo),
    }


def fit_shadow(found: list[Sample], clear: ClearWater) -> dict[str, float]:
    """Fit what shadow and absorption add to the factor that forward scatter alone gives.

    One lamp cannot part SHADOW from PAST_THE_JAR, which is held.
    """
    ratios = np.array([one.mean_ratio[MAIN_CHANNEL] for one in (clear.fine, clear.coarse)])
    extra = np.stack([_extra_factor(one) for one in found])
    aside = np.array([[1 - albedo.USUAL_ALBEDO * one.asymmetry] for one in found])
    absorbed = np.array([[albedo.USUAL_ALBEDO - one.albedo] for one in found])

    through = np.maximum(1 - scatter.PAST_THE_JAR / ratios, 0)

    def residual(p: Numbers) -> Numbers:
        return np.asarray((extra - p[0] * through * aside - p[1] * absorbed).ravel())

    fit = least_squares(residual, [1.0, 1.0], loss="soft_l1", f_scale=0.03)
    names = ("SHADOW", "ABSORPTION")
    values = dict(zip(names, fit.x.tolist(), strict=True))
    return {**values, "SHADOW_STD": float(np.sqrt(np.mean(residual(fit.x) ** 2)))}


def _extra_factor(one: Sample) -> Numbers:
    """Return the factor beyond forward scatter alone, for both widths, shape (2,)."""
    sight, asymmetry = known_sheets()[0].sight, np.array([one.asymmetry])
    alone = [
        scatter.bar_factor(bar_mm, PATH_MM, asymmetry, one.albedo, one.more_per_m)[0]
        for bar_mm in (sight.fine_bar_mm, sight.coarse_bar_mm)
    ]
    return np.asarray(-np.log(one.kept) / (one.more_per_m * PATH_MM / 1000) - alone)


def fitted() -> dict[str, float]:
    """Return all constants as fitted, by their names in the package."""
    found, clear = samples()
    return {
        **fit_light_lost(found),
        **fit_bright(found),
        **fit_veil(found),
        **fit_shadow(found, clear),
    }


def in_package(name: str) -> float:
    """Return the constant that the package uses."""
    return float(
        next(getattr(room, name) for room in (light, albedo, scatter) if hasattr(room, name))
    )


def main() -> None:
    """Print each constant, as fitted and as used."""
    print("constant             fitted  used")
    for name, value in fitted().items():
        print(f"{name:20s} {value:6.3f} {in_package(name):6.3f}")


if __name__ == "__main__":
    main()
