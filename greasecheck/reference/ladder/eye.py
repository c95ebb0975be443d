"""How the deepest bar of a ladder that an eye sees becomes the haze of the water."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from greasecheck.reference.folder import data_folder
from greasecheck.reference.lookup import read_lookup

TABLE = "ladder_eye.csv"


@dataclass(frozen=True, slots=True, kw_only=True)
class EyeLaw:
    """The derived constants.

    Attributes
    ----------
    factors : tuple of float
        Of the polynomial of the logarithm of haze [1/m] in that of depth [100 mm], highest first.
    waters_log_std, eyes_log_std : float
        Standard errors of the logarithm over kinds of water and light, and over eyes.
    """

    factors: tuple[float, ...]
    waters_log_std: float
    eyes_log_std: float

    @property
    def log_std(self) -> float:
        """Return the error that all readings of one eye in one tub share."""
        return float(np.hypot(self.waters_log_std, self.eyes_log_std))

    def haze_per_m(self, depth_mm: float) -> float:
        """Return the haze in which bars are seen to that depth below the surface [1/m]."""
        return float(np.exp(np.polyval(self.factors, np.log(depth_mm / 100))))


@cache
def eye_law() -> EyeLaw:
    """Return the constants of calibration/ladder_eye.csv.

    Examples
    --------
    >>> law = eye_law()
    >>> law.haze_per_m(50) > law.haze_per_m(100) > 20
    True
    """
    values = read_lookup(data_folder("calibration") / TABLE).values()
    return EyeLaw(
        factors=tuple(values[f"log_depth_power_{power}"] for power in (2, 1, 0)),
        waters_log_std=values["waters_log_std"],
        eyes_log_std=values["eyes_log_std"],
    )
