"""Nonlinear regression problems of the NIST Statistical Reference Datasets.

Source: National Institute of Standards and Technology, Statistical Reference Datasets, nonlinear
regression, https://www.itl.nist.gov/div898/strd/nls/nls_main.shtml (public domain): data, both
published starts and certified values, to 11 digits.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One dataset: `model` takes x, shape (n, 1), and parameters, shape (p, points)."""

    name: str
    model: Callable[[FloatArray, FloatArray], FloatArray]
    x: FloatArray
    y: FloatArray
    starts: tuple[FloatArray, FloatArray]
    certified: FloatArray
    sum_of_squares: float

    def residuals(self, points: FloatArray) -> FloatArray:
        """Return residuals, shape (n, points)."""
        return self.model(self.x[:, None], points) - self.y[:, None]


def _of(text: str) -> FloatArray:
    return np.array([float(word) for word in text.split()])


MISRA1A = Problem(
    name="Misra1a",
    model=lambda x, b: b[0] * (1 - np.exp(-b[1] * x)),
    x=_of("77.6 114.9 141.1 190.8 239.9 289.0 332.8 378.4 434.8 477.3 536.8 593.1 689.1 760.0"),
    y=_of("10.07 14.73 17.94 23.93 29.61 35.18 40.02 44.82 50.76 55.05 61.01 66.40 75.47 81.78"),
    starts=(_of("500 0.0001"), _of("250 0.0005")),
    certified=_of("2.3894212918E+02 5.5015643181E-04"),
    sum_of_squares=1.2455138894e-01,
)
CHWIRUT2 = Problem(
    name="Chwirut2",
    model=lambda x, b: np.exp(-b[0] * x) / (b[1] + b[2] * x),
    x=_of(
        "0.5 1 1.75 3.75 5.75 0.875 2.25 3.25 5.25 0.75 1.75 2.75 4.75 0.625 1.25 2.25 4.25 0.5 "
        "3 0.75 3 1.5 6 3 6 1.5 3 0.5 2 4 0.75 2 5 0.75 2.25 3.75 5.75 3 0.75 2.5 4 0.75 2.5 4 "
        "0.75 2.5 4 0.5 6 3 0.5 2.75 0.5 1.75"
    ),
    y=_of(
        "92.9 57.1 31.05 11.5875 8.025 63.6 21.4 14.25 8.475 63.8 26.8 16.4625 7.125 67.3 41 "
        "21.15 8.175 81.5 13.12 59.9 14.62 32.9 5.44 12.56 5.44 32 13.95 75.8 20 10.42 59.5 "
        "21.67 8.55 62 20.2 7.76 3.75 11.81 54.7 23.7 11.55 61.3 17.7 8.74 59.2 16.3 8.62 81 "
        "4.87 14.62 81.7 17.17 81.3 28.9"
    ),
    starts=(_of("0.1 0.01 0.02"), _of("0.15 0.008 0.010")),
    certified=_of("1.6657666537E-01 5.1653291286E-03 1.2150007096E-02"),
    sum_of_squares=5.1304802941e02,
)
LANCZOS3 = Problem(
    name="Lanczos3",
    model=lambda x, b: (
        b[0] * np.exp(-b[1] * x) + b[2] * np.exp(-b[3] * x) + b[4] * np.exp(-b[5] * x)
    ),
    x=np.arange(24, dtype=np.float64) * 0.05,
    y=_of(
        "2.5134 2.0443 1.6684 1.3664 1.1232 0.9269 0.7679 0.6389 0.5338 0.4479 0.3776 0.3197 "
        "0.2720 0.2325 0.1997 0.1723 0.1493 0.1301 0.1138 0.1000 0.0883 0.0783 0.0698 0.0624"
    ),
    starts=(_of("1.2 0.3 5.6 5.5 6.5 7.6"), _of("0.5 0.7 3.6 4.2 4 6.3")),
    certified=_of(
        "8.6816414977E-02 9.5498101505E-01 8.4400777463E-01 "
        "2.9515951832E+00 1.5825685901E+00 4.9863565084E+00"
    ),
    sum_of_squares=1.6117193594e-08,
)
MGH17 = Problem(
    name="MGH17",
    model=lambda x, b: b[0] + b[1] * np.exp(-x * b[3]) + b[2] * np.exp(-x * b[4]),
    x=np.arange(33, dtype=np.float64) * 10.0,
    y=_of(
        "0.844 0.908 0.932 0.936 0.925 0.908 0.881 0.850 0.818 0.784 0.751 0.718 0.685 0.658 "
        "0.628 0.603 0.580 0.558 0.538 0.522 0.506 0.490 0.478 0.467 0.457 0.448 0.438 0.431 "
        "0.424 0.420 0.414 0.411 0.406"
    ),
    starts=(_of("50 150 -100 1 2"), _of("0.5 1.5 -1 0.01 0.02")),
    certified=_of(
        "3.7541005211E-01 1.9358469127E+00 -1.4646871366E+00 1.2867534640E-02 2.2122699662E-02"
    ),
    sum_of_squares=5.4648946975e-05,
)
BOXBOD = Problem(
    name="BoxBOD",
    model=lambda x, b: b[0] * (1 - np.exp(-b[1] * x)),
    x=_of("1 2 3 5 7 10"),
    y=_of("109 149 149 191 213 224"),
    starts=(_of("1 1"), _of("100 0.75")),
    certified=_of("2.1380940889E+02 5.4723748542E-01"),
    sum_of_squares=1.1680088766e03,
)
PROBLEMS = (MISRA1A, CHWIRUT2, LANCZOS3, MGH17, BOXBOD)
