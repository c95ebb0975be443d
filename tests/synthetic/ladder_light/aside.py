"""How far from the side the laws hold that `fit_slopes` derives from views within 20 degrees.

Run as ``python -m tests.synthetic.ladder_light.aside`` (a quarter of an hour on one core): it
traces 120 other tubs, looked at from up to 45 degrees aside, and prints errors over stated ones.
"""

from __future__ import annotations

import tempfile
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np

from greasecheck.measure.ladder.haze import estimate_haze
from tests.synthetic.ladder_light.fit_slopes import SCATTER
from tests.synthetic.ladder_light.make_light import traced
from tests.synthetic.ladder_light.scenes import Tub, Water, any_tub, any_water, profile_of, scene_of
from tests.synthetic.ladder_light.tub import build

TUBS, PATHS, SEED = 120, 8192, 4242
HAZE_PER_M = (3.0, 90.0)
ASIDE_DEG = (0.0, 15.0, 25.0, 35.0, 45.0)


def tubs_aside() -> list[tuple[Tub, Water]]:
    """Draw tubs as those of the design, looked at from farther aside."""
    rng = np.random.default_rng(SEED)
    found: list[tuple[Tub, Water]] = []
    while len(found) < TUBS:
        water = any_water(rng)
        haze = float(np.exp(rng.uniform(*np.log(HAZE_PER_M))))
        if SCATTER[0] <= water.g_forward <= SCATTER[1]:
            side = 1 if rng.random() < 0.5 else -1
            aside = side * float(rng.uniform(ASIDE_DEG[0], ASIDE_DEG[-1]))
            tub = any_tub(rng, float(rng.uniform(20, 58)), aside)
            found.append((tub, replace(water, attenuation_per_m=(haze,) * 3)))
    return found


def print_errors() -> None:
    """Trace the tubs and print errors of haze by how far aside they are looked at."""
    pairs = tubs_aside()
    with tempfile.TemporaryDirectory() as name:
        light, error = traced(build(Path(name)), pairs, range(1), PATHS)
    rows = []
    for (tub, water), seen, noise in zip(pairs, light[:, 0], error[:, 0], strict=True):
        profile = profile_of(scene_of(tub, water, 0), seen, noise)
        found = estimate_haze(profile, float(np.cos(np.radians(tub.view_deg))))
        if found.bound is None and np.isfinite(found.haze_per_m):
            miss = (found.haze_per_m - water.attenuation_per_m[0]) / found.std_per_m
            rows.append((abs(tub.azimuth_deg), miss))
    aside, miss = np.array(rows).T
    for low, high in pairwise(ASIDE_DEG):
        own = miss[(aside >= low) & (aside < high)]
        print(
            f"{low:3g} to {high:g} degrees: {len(own)} tubs, rms of errors over stated ones"
            f" {np.sqrt(np.mean(own**2)):.2f}, {np.mean(np.abs(own) <= 2):.0%} within two"
        )


if __name__ == "__main__":
    print_errors()
