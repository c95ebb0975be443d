"""Draws tubs of murky water with ladders, some to derive constants from, others to judge by."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.ladder.profile import BIN_MM
from greasecheck.measure.ladder.slopes import Profile
from greasecheck.reference.ladder.plate import dip_ladder
from tests.synthetic.ladder_light.tub import DEPTHS, LAMPS, TubScene

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from greasecheck.model import FloatArray

INDEX = 1.333
DEEPEST_MM = 168.0
OPTICAL_REACH = 5.0  # attenuation times path to which points of the plate are traced
DESIGN_SEED, GAIN_SEED, JUDGE_SEED, COLOUR_SEED, CLEAR_SEED = 20261, 31337, 77003, 40961, 52711
TINTED_SEED, BATH_GAIN_SEED = 61129, 73009
STEP_MM = 2.5
LEVEL_RANGE_MM, LEVEL_SEED = (80.0, 98.0), 15  # y of the plate, as in photos
PHOTO_STD = 0.0015  # usual error of light over that of dry white in photos, by which fits weigh
GAIN_STEPS = 10
GAIN_HAZE_PER_M, COLOUR_HAZE_PER_M, CLEAR_HAZE_PER_M = (0.4, 60.0), (1.0, 100.0), (0.4, 16.0)
TINTED_HAZE_PER_M = (0.4, 100.0)
COLOURS_NM = (600.0, 540.0, 460.0)  # near the middle of what a camera's R, G and B see


@dataclass(frozen=True, slots=True)
class Water:
    """A water for R, G, B: attenuation [1/m], albedo, forward and backward scatter."""

    kind: str
    attenuation_per_m: tuple[float, float, float]
    albedo: tuple[float, float, float]
    g_forward: float
    backward_share: float


@dataclass(frozen=True, slots=True)
class Tub:
    """A tub, its lights and how it is looked at."""

    wall: float
    width_mm: float
    length_mm: float
    depth_mm: float
    rim_mm: float
    lamps: tuple[tuple[float, float, float], ...]
    light: tuple[float, ...]  # weights of the sky and of each lamp
    view_deg: float
    azimuth_deg: float


def any_water(rng: np.random.Generator) -> Water:
    """Draw a water at random, of one attenuation for all colours: a family of wide bounds."""
    haze = float(np.exp(rng.uniform(np.log(0.3), np.log(140))))
    albedo, forward = _any_albedo(rng), float(rng.uniform(0.5, 0.96))
    return Water("any", (haze,) * 3, (albedo,) * 3, forward, _any_backward_share(rng))


def tinted_water(rng: np.random.Generator, haze_per_m: float) -> Water:
    """Draw a water of particles and a dissolved pigment of any strengths, of given haze in red.

    Scattering goes by a power of the wavelength of 0, of large particles, to -2, of a fat emulsion
    (Michels, Foschum & Kienle 2008, Opt. Express 16, 5907); absorption grows exponentially towards
    blue by 0 to 0.015 per nm, as that of dissolved organic matter does by 0.014 (Bricaud, Morel &
    Prieur 1981, Limnol. Oceanogr. 26, 43).
    """
    albedo, nm = _any_albedo(rng), np.array(COLOURS_NM)
    scattering = albedo * (nm / nm[0]) ** rng.uniform(-2, 0)
    absorption = (1 - albedo) * np.exp(rng.uniform(0, 0.015) * (nm[0] - nm))
    hazes, albedos = scattering + absorption, scattering / (scattering + absorption)
    return Water(
        "tinted",
        tuple((haze_per_m * hazes).tolist()),
        tuple(albedos.tolist()),
        float(rng.uniform(0.55, 0.95)),
        _any_backward_share(rng),
    )


def strange_water(rng: np.random.Generator, haze_per_m: float) -> Water:
    """Draw a water of one lobe and any albedo, grey or tinted in any way, of given haze in red."""
    ratio, shares = np.ones(3), np.full(3, rng.uniform(0.3, 0.99))
    if rng.random() < 0.5:
        ratio[1:] = np.cumprod(rng.uniform(1, 1.6, 2))
        shares[1:] *= np.cumprod(rng.uniform(0.7, 1, 2))
    hazes = tuple((haze_per_m * ratio).tolist())
    return Water("strange", hazes, tuple(shares.tolist()), float(rng.uniform(0.6, 0.95)), 0.0)


def _any_albedo(rng: np.random.Generator) -> float:
    """Draw an albedo, in half of all waters near 1 by any power of ten, in half down to 0.3."""
    if rng.random() < 0.5:
        return 1 - float(np.exp(rng.uniform(np.log(0.001), np.log(0.7))))
    return float(rng.uniform(0.3, 0.99))


def _any_backward_share(rng: np.random.Generator) -> float:
    """Draw the share of light that a second lobe scatters back; in half of all waters none."""
    return float(rng.uniform(0, 0.06)) if rng.random() < 0.5 else 0.0


def kitchen_water(rng: np.random.Generator, haze_per_m: float) -> Water:
    """Draw a water as baths have them, of a given attenuation in red.

    Fat emulsions: g 0.48 to 0.80 and an attenuation in blue of 1.8 to 2.05 times that in red
    (Michels, Foschum & Kienle 2008, Opt. Express 16, 5907). Soap scum: larger particles, nearly
    grey. Brown water: absorbed by blood pigment, in blue far more than in red.
    """
    kind = ("milky", "milky", "scum", "brown")[rng.integers(4)]
    if kind == "milky":
        ratio = (1.0, rng.uniform(1.25, 1.4), rng.uniform(1.8, 2.05))
        albedo = 1 - np.exp(rng.uniform(np.log(0.001), np.log(0.03)))
        shares, forward = (albedo,) * 3, rng.uniform(0.6, 0.9)
    elif kind == "scum":
        ratio = (1.0, rng.uniform(1.0, 1.15), rng.uniform(1.05, 1.35))
        albedo = rng.uniform(0.9, 0.99)
        shares, forward = (albedo, albedo - 0.01, albedo - 0.03), rng.uniform(0.8, 0.95)
    else:
        ratio = (1.0, rng.uniform(1.3, 1.8), rng.uniform(1.8, 3.0))
        red = rng.uniform(0.5, 0.9)
        shares, forward = (red, red * 0.75, red * 0.55), rng.uniform(0.75, 0.95)
    hazes = tuple(float(haze_per_m * one) for one in ratio)
    albedos = tuple(float(one) for one in shares)
    return Water(kind, hazes, albedos, float(forward), float(rng.uniform(0, 0.03)))  # type: ignore[arg-type]


def any_light(rng: np.random.Generator) -> tuple[tuple[tuple[float, ...], ...], tuple[float, ...]]:
    """Draw distant lamps and the weights of sky and lamps: lamp, window, bulb or plain daylight."""
    kind = rng.integers(4)
    high = rng.uniform(25, 80, LAMPS)
    side = rng.uniform(20, 160, LAMPS)
    share = rng.dirichlet(np.full(LAMPS, 0.3))
    sky = rng.uniform(0.05, 0.4)
    if kind == 1:  # a window: a patch of neighbouring directions
        high = rng.uniform(15, 45) + rng.uniform(-6, 12, LAMPS)
        side = rng.uniform(30, 150) + rng.uniform(-20, 20, LAMPS)
        share = np.full(LAMPS, 1 / LAMPS)
    elif kind == 2:  # a bulb overhead
        high = rng.uniform(65, 85, LAMPS)
        sky = rng.uniform(0.1, 0.5)
    elif kind == 3:
        sky = rng.uniform(0.7, 1.0)
    high, side = np.radians(high), np.radians(side)
    lamps = np.column_stack(
        [np.cos(high) * np.cos(side), np.cos(high) * np.sin(side), np.sin(high)]
    )
    weights = np.concatenate([[sky], (1 - sky) * share])
    return tuple(map(tuple, lamps.tolist())), tuple(weights.tolist())


def any_tub(rng: np.random.Generator, view_deg: float, azimuth_deg: float) -> Tub:
    """Draw a tub: white, grey or dark, of 10 to 80 litres."""
    lamps, light = any_light(rng)
    wall = (rng.uniform(0.6, 0.85), rng.uniform(0.25, 0.5), rng.uniform(0.04, 0.15))[
        rng.integers(3)
    ]
    return Tub(
        wall=float(wall),
        width_mm=float(rng.uniform(280, 650)),
        length_mm=float(rng.uniform(240, 500)),
        depth_mm=float(rng.uniform(185, 400)),
        rim_mm=float(rng.uniform(15, 110)),
        lamps=lamps,  # type: ignore[arg-type]
        light=light,
        view_deg=view_deg,
        azimuth_deg=azimuth_deg,
    )


def scene_of(tub: Tub, water: Water, channel: int) -> TubScene:
    """Return one colour of a tub as the path tracer takes it."""
    haze = water.attenuation_per_m[channel]
    sine = np.sin(np.radians(tub.view_deg)) / INDEX
    cosine = float(np.sqrt(1 - sine**2))
    deepest = min(DEEPEST_MM, 1000 * OPTICAL_REACH / haze * cosine)
    return TubScene(
        attenuation_per_mm=haze / 1000,
        albedo=water.albedo[channel],
        g_forward=water.g_forward,
        g_backward=-0.3,
        backward_share=water.backward_share,
        wall=tub.wall,
        width_mm=tub.width_mm,
        length_mm=tub.length_mm,
        depth_mm=tub.depth_mm,
        rim_mm=tub.rim_mm,
        white=0.8,
        black=0.045,
        dry_black=0.045,
        sight_cos=cosine,
        azimuth_rad=float(np.radians(tub.azimuth_deg)),
        points_mm=tuple((deepest * points()).tolist()),
        lamps=tub.lamps,
    )


def points() -> FloatArray:
    """Return the depths that are traced, as shares of the deepest, shape (DEPTHS,)."""
    return np.linspace(0.02, 1.0, DEPTHS)


def design_scenes(count: int) -> list[tuple[Tub, Water]]:
    """Draw the tubs from which constants are derived."""
    rng = np.random.default_rng(DESIGN_SEED)
    return [
        (any_tub(rng, float(rng.uniform(17, 62)), float(rng.uniform(-20, 20))), any_water(rng))
        for _ in range(count)
    ]


def colour_scenes(count: int) -> list[tuple[Tub, Water]]:
    """Draw tubs of baths' own waters, from which constants of their colour are derived."""
    return _coloured_scenes(kitchen_water, count, COLOUR_SEED, COLOUR_HAZE_PER_M)


def clear_scenes(count: int) -> list[tuple[Tub, Water]]:
    """Draw tubs of baths' own waters while clear, from which their law is derived."""
    return _coloured_scenes(kitchen_water, count, CLEAR_SEED, CLEAR_HAZE_PER_M)


def tinted_scenes(count: int) -> list[tuple[Tub, Water]]:
    """Draw tubs of waters that differ in colour as particles and a pigment make them."""
    return _coloured_scenes(tinted_water, count, TINTED_SEED, TINTED_HAZE_PER_M)


def _coloured_scenes(
    water: Callable[[np.random.Generator, float], Water],
    count: int,
    seed: int,
    hazes_per_m: tuple[float, float],
) -> list[tuple[Tub, Water]]:
    rng = np.random.default_rng(seed)
    clearest, murkiest = np.log(hazes_per_m)
    found = []
    for _ in range(count):
        tub = any_tub(rng, float(rng.uniform(20, 60)), float(rng.uniform(-12, 12)))
        found.append((tub, water(rng, float(np.exp(rng.uniform(clearest, murkiest))))))
    return found


def gain_scenes(tubs: int) -> list[tuple[Tub, Water]]:
    """Draw tubs of any water that each keep light and kind of water over `GAIN_STEPS` hazes."""
    return _cleared(any_water, tubs, GAIN_SEED)


def bath_gain_scenes(tubs: int) -> list[tuple[Tub, Water]]:
    """Draw the same of baths' own waters."""
    return _cleared(lambda rng: kitchen_water(rng, 1.0), tubs, BATH_GAIN_SEED)


def _cleared(
    water_of: Callable[[np.random.Generator], Water], tubs: int, seed: int
) -> list[tuple[Tub, Water]]:
    """Draw tubs from murky to clear, each haze looked at from another place; alike in R, G, B."""
    rng = np.random.default_rng(seed)
    clearest, murkiest = GAIN_HAZE_PER_M
    edges = np.log(np.geomspace(murkiest, clearest, GAIN_STEPS + 1))
    found = []
    for _ in range(tubs):
        tub, water = any_tub(rng, 40.0, 0.0), water_of(rng)
        for murkier, clearer in pairwise(edges):
            haze = float(np.exp(rng.uniform(clearer, murkier)))
            view, azimuth = float(rng.uniform(17, 62)), float(rng.uniform(-20, 20))
            found.append(
                (
                    replace(tub, view_deg=view, azimuth_deg=azimuth),
                    replace(water, attenuation_per_m=(haze,) * 3),
                )
            )
    return found


def profile_of(scene: TubScene, light: FloatArray, error: FloatArray) -> Profile:
    """Return what a ladder shows of a traced tub from its surface on, every 2.5 mm of depth.

    Parameters
    ----------
    scene : TubScene
        The tub.
    light, error : ndarray, shape (DEPTHS, PATTERNS)
        Radiances over that of dry white of reflectance 1, and their errors.
    """
    traced = np.array(scene.points_mm)
    depth = np.arange(STEP_MM / 2, traced[-1], STEP_MM)
    scaled, noise = light / scene.white, error / scene.white
    pairs = {"fine": (0, 1), "coarse": (2, 3)}
    contrast = {name: scaled[:, a] - scaled[:, b] for name, (a, b) in pairs.items()}
    noises = {name: np.hypot(noise[:, a], noise[:, b]) for name, (a, b) in pairs.items()}
    return Profile(
        depth_mm=depth,
        mirrors_black=np.ones(len(depth), dtype=np.bool_),
        path_m=depth / scene.sight_cos / 1000,
        fine=_between(depth, traced, contrast["fine"]),
        coarse=_between(depth, traced, contrast["coarse"]),
        white=np.interp(depth, traced, scaled[:, 2]),
        fine_std=np.interp(depth, traced, noises["fine"]),
        coarse_std=np.interp(depth, traced, noises["coarse"]),
        white_std=np.interp(depth, traced, noise[:, 2]),
    )


def photo_profile(
    scene: TubScene, light: FloatArray, error: FloatArray, level_mm: float
) -> Profile:
    """Return what photos show of it: stripes from their upper end on, on paper as white as theirs.

    Parameters are those of `profile_of` and the plate's own y of the waterline [mm].
    """
    plate = dip_ladder()
    traced = np.array(scene.points_mm)
    first = plate.stripes.fine.y_mm - level_mm + BIN_MM
    depth = np.arange(max(first, BIN_MM / 2), traced[-1], BIN_MM)
    white, black = (plate.greys[name].reflectance for name in ("white", "black"))
    fine, coarse = (
        _between(depth, traced, (light[:, of] - light[:, of + 1]) / (scene.white - scene.black))
        for of in (0, 2)
    )
    veil = np.interp(depth, traced, _veil(scene, light))
    fine_std, coarse_std = (
        np.hypot(np.interp(depth, traced, error[:, of] / scene.white), PHOTO_STD) for of in (0, 2)
    )
    return Profile(
        depth_mm=depth,
        mirrors_black=np.ones(len(depth), dtype=np.bool_),
        path_m=depth / scene.sight_cos / 1000,
        fine=(1 - black / white) * fine,
        coarse=(1 - black / white) * coarse,
        white=coarse + veil / white,
        fine_std=fine_std,
        coarse_std=coarse_std,
        white_std=coarse_std,
    )


def _veil(scene: TubScene, light: FloatArray) -> FloatArray:
    """Return the light that stripes of 8 mm would send if they reflected none, by traced depth."""
    white, black = light[:, 2], light[:, 3]
    return black - scene.black * (white - black) / (scene.white - scene.black)


def profiles_of(
    scenes: Sequence[TubScene], light: FloatArray, error: FloatArray, *, in_photos: bool
) -> list[Profile]:
    """Return the profiles of traced tubs, in photos with the water anywhere on their plates."""
    if not in_photos:
        return [profile_of(*one) for one in zip(scenes, light, error, strict=True)]
    levels = np.random.default_rng(LEVEL_SEED).uniform(*LEVEL_RANGE_MM, len(scenes))
    return [photo_profile(*one) for one in zip(scenes, light, error, levels, strict=True)]


def _between(depth: FloatArray, traced: FloatArray, contrast: FloatArray) -> FloatArray:
    """Interpolate what decays, in its logarithm."""
    return np.exp(np.interp(depth, traced, np.log(np.maximum(contrast, 1e-5))))
