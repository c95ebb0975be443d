"""What counts as clean bone and what as a yellow patch."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.colorimetry import yellowness_e313
from greasecheck.measure.robust import percentiles
from greasecheck.reference import data_folder
from greasecheck.reference.cie import WHITES, lab_to_xyz
from greasecheck.reference.lookup import read_lookup

if TYPE_CHECKING:
    from greasecheck.model import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class CleanBone:
    """What counts as clean and as yellow, from calibration/bone.csv.

    Attributes
    ----------
    xyz : ndarray, shape (3,)
        Colour of clean bone (D65/2), Y of the perfect diffuser = 100.
    yi_least_margin, yi_most_margin : float
        A yellow patch is never less, and at the latest so much, yellower than clean bone.
    yi_own_contrast : float
        Between these, it is so much yellower than the bone's own cleanest tenth.
    """

    xyz: FloatArray
    yi_least_margin: float
    yi_most_margin: float
    yi_own_contrast: float

    def yellow_limit(self, yellowness: FloatArray) -> float:
        """Return the yellowness index from which a spot of this bone counts as yellow.

        A bone that is yellow all over has no clean part to compare with, so the limit cannot
        follow its own tone for ever; a very white one shows faint stains that do no harm.
        """
        clean = float(yellowness_e313(self.xyz))
        own = percentiles(yellowness, [10])[0] + self.yi_own_contrast
        return float(np.clip(own, clean + self.yi_least_margin, clean + self.yi_most_margin))


@cache
def clean_bone() -> CleanBone:
    """Return what counts as clean bone (common practice, no source)."""
    table = read_lookup(data_folder("calibration") / "bone.csv")
    value = dict(zip(table.texts("name"), table.numbers("value").tolist(), strict=True))
    lab = np.array([[value["lab_l"], value["lab_a"], value["lab_b"]]])
    return CleanBone(
        xyz=lab_to_xyz(lab, WHITES["D65"])[0],
        yi_least_margin=value["yi_least_margin"],
        yi_most_margin=value["yi_most_margin"],
        yi_own_contrast=value["yi_own_contrast"],
    )
