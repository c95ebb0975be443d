"""Derives calibration/ladder_eye.csv from path-traced tubs: haze by the last bar that an eye sees.

Run as ``python -m tests.synthetic.ladder_light.fit_eye``; it writes the table anew. In each tub of
the design the depth is sought at which bars have the threshold of contrast left.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.ladder.slopes import LEAST_SHARE, fit_decay
from greasecheck.reference.folder import data_folder
from greasecheck.reference.ladder.eye import TABLE
from tests.synthetic.ladder_light.fit_slopes import SCATTER
from tests.synthetic.ladder_light.make_light import DESIGNS
from tests.synthetic.ladder_light.scenes import design_scenes, profile_of, scene_of

if TYPE_CHECKING:
    from greasecheck.model import FloatArray
    from tests.synthetic.ladder_light.tub import TubScene

# Contrast of white bars over black ones, over white, that is just seen: 0.0066 (Tyler 1968, Limnol.
# Oceanogr. 13, 1, on white disks in the sea) to 0.05 (WMO 2018, Guide to instruments, no. 8, part I
# chapter 9: meteorological optical range). Eyes and lights are taken to lie between; their middle
# is 0.018, near the 0.02 of Koschmieder 1924 and Duntley 1948.
LEAST_SEEN, MOST_SEEN = 0.0066, 0.05
DEPTHS_MM = (8.0, 178.0)  # from where the water usually stands to the ends of the stripes
HEADER = """\
# title: Haze of a bath by the deepest bar of a ladder that an eye sees
# source: tests/synthetic/ladder_light/fit_eye.py, from path-traced tubs of many kinds
# author: the greasecheck founders
# year: 2026
# doi: none
# licence: as the package
# units: logarithms are natural, of haze in 1/m and of depth in 100 mm
"""


def depth_seen_mm(scene: TubScene, light: FloatArray, error: FloatArray, threshold: float) -> float:
    """Return how deep bars between 3 and 8 mm show that much contrast; NaN where none does [mm]."""
    profile = profile_of(scene, light, error)
    shares = np.sqrt(np.maximum(profile.fine, 1e-5) * profile.coarse) / profile.white
    found = fit_decay(
        profile.path_m, shares[np.newaxis], profile.coarse_std / profile.white, LEAST_SHARE
    )
    start, slope = float(found.start[0]), float(found.slope_per_m[0])
    if not slope > 0:
        return float("nan")
    return float(np.log(start / threshold) / slope * scene.sight_cos * 1000)


def derive() -> list[str]:
    """Fit the logarithm of haze to that of the depth; return the lines of the table."""
    pairs, traced = design_scenes(DESIGNS), np.load(Path(__file__).with_name("design.npz"))
    light, error = traced["light"][:, 0], traced["error"][:, 0].astype(float)
    usable = [
        n for n, (_, water) in enumerate(pairs) if SCATTER[0] <= water.g_forward <= SCATTER[1]
    ]
    haze = np.array([pairs[n][1].attenuation_per_m[0] for n in usable])
    middle = float(np.sqrt(LEAST_SEEN * MOST_SEEN))
    fits = {}
    for threshold in (LEAST_SEEN, middle, MOST_SEEN):
        depths = [
            depth_seen_mm(scene_of(*pairs[n], 0), light[n], error[n], threshold) for n in usable
        ]
        fits[threshold] = _fit(np.array(depths), haze)
    factors, waters_std = fits[middle]
    eyes_std = abs(fits[LEAST_SEEN][0][-1] - fits[MOST_SEEN][0][-1]) / 4
    print(f"error by waters {waters_std:.3f}, by eyes {eyes_std:.3f}")
    rows = [f"log_depth_power_{2 - n},{value:.6g}" for n, value in enumerate(factors)]
    return [
        "name,value",
        *rows,
        f"waters_log_std,{waters_std:.4f}",
        f"eyes_log_std,{eyes_std:.4f}",
    ]


def _fit(depth_mm: FloatArray, haze_per_m: FloatArray) -> tuple[FloatArray, float]:
    low, high = DEPTHS_MM
    within = (depth_mm > low) & (depth_mm < high)
    logs = np.log(depth_mm[within] / 100)
    factors = np.polyfit(logs, np.log(haze_per_m[within]), 2)
    left = np.log(haze_per_m[within]) - np.polyval(factors, logs)
    return factors, float(left.std())


if __name__ == "__main__":
    table = data_folder("calibration") / TABLE
    table.write_text(HEADER + "\n".join(derive()) + "\n", encoding="utf-8")
