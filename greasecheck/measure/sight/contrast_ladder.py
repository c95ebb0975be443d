"""The contrast ladder: what the camera makes of faint contrast.

A tone curve that is the same all over the picture is undone by the patches, and then every field of
bars keeps the contrast that it was printed with. Local tone mapping lifts faint contrast against
strong, denoising takes it away from fine faint bars: both show as a gain that depends on contrast.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.sight.bars import AS_PRINTED, BarField, align_alike, take_alike
from greasecheck.measure.sight.cells import measure_alike
from greasecheck.measure.sight.glass import modulation
from greasecheck.reference.patches.values import nominal_values

if TYPE_CHECKING:
    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.measure.sight.cells import FieldContrast
    from greasecheck.model import Box, FloatArray, Photo, Placement

FAINT = 0.28  # modulation up to which a field counts as faint: printed contrast of 3 to 12 %
PRINTED_STD = 0.02  # relative, of a field's printed modulation
LEAST_MODULATION = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderView:
    """Gain of the camera for bars of falling contrast, as logarithms.

    Attributes
    ----------
    printed : ndarray, shape (n,)
        Printed modulation of each field, the faintest first; the last is the dry bars'.
    fine, coarse : ndarray, shape (n,)
        Logarithm of the modulation seen over that printed, less that of the dry bars.
    fine_std, coarse_std : ndarray, shape (n,)
        Their standard errors.
    greys, levels : ndarray, shape (n - 1,)
        Printed mean light of each cell, paper = 1, and the logarithm of that seen over it.
    """

    printed: FloatArray
    fine: FloatArray
    coarse: FloatArray
    fine_std: FloatArray
    coarse_std: FloatArray
    greys: FloatArray
    levels: FloatArray

    @property
    def dark_lift(self) -> float:
        """Return the logarithm by which the darkest cell is lighter than it was printed.

        A camera that lifts dark areas as a whole, against small patches, lifts a dark jar, too. The
        darkest cell lies farthest from the jar's own light.
        """
        return float(self.levels[np.argmin(self.greys)])

    @property
    def faint_gain(self) -> float:
        """Return the mean logarithmic gain of faint coarse fields against strong ones."""
        return self._step(self.coarse, self.coarse_std)

    @property
    def fine_loss(self) -> float:
        """Return how much less faint fine fields gain than faint coarse ones, as a logarithm."""
        return self.faint_gain - self._step(self.fine, self.fine_std)

    def _step(self, gains: FloatArray, std: FloatArray) -> float:
        faint = self.printed < FAINT
        weights = 1 / std**2
        means = [np.average(gains[part], weights=weights[part]) for part in (faint, ~faint)]
        return float(means[0] - means[1])


def climb_ladder(
    photo: Photo,
    placement: Placement,
    colour: ColourModel,
    dry: tuple[FieldContrast, FieldContrast],
) -> LadderView | None:
    """Measure the ladder's fields; None on sheets without one.

    Parameters
    ----------
    photo, placement, colour
        The photo, where the sheet is in it, and its colour model.
    dry : tuple of FieldContrast
        The fine and the coarse bars beside the jar, the ladder's top.
    """
    ladder = placement.geometry.ladder
    if ladder is None:
        return None

    def seen(boxes: list[Box], bar_mm: float) -> list[FieldContrast]:
        fields = [BarField(box=box, bar_mm=bar_mm) for box in boxes]
        taken = take_alike(photo, placement, colour, fields)
        return measure_alike(taken, align_alike(taken, AS_PRINTED, 0.2))

    printed = np.array([_printed(placement, cell.name) for cell in ladder.cells])
    order = np.argsort(printed)
    fine = seen([ladder.cells[n].fine for n in order], ladder.fine_bar_mm)
    coarse = seen([ladder.cells[n].coarse for n in order], ladder.coarse_bar_mm)
    top = _printed_modulation(*(nominal_values(placement.geometry).of(n)[1] for n in BAR_NAMES))
    steps = np.append(printed[order], top)
    fine_gain, fine_std = _gains([*fine, dry[0]], steps)
    coarse_gain, coarse_std = _gains([*coarse, dry[1]], steps)
    names = [ladder.cells[n].name for n in order]
    greys = np.array([_printed_grey(placement, name) for name in names])
    seen_greys = [(_grey(one) + _grey(other)) / 2 for one, other in zip(fine, coarse, strict=True)]
    return LadderView(
        printed=steps,
        fine=fine_gain,
        coarse=coarse_gain,
        fine_std=fine_std,
        coarse_std=coarse_std,
        greys=greys,
        levels=np.log(np.maximum(seen_greys, LEAST_MODULATION) / greys),
    )


def _printed_grey(placement: Placement, cell: str) -> float:
    """Mean of a cell's two greys, paper = 1."""
    values = nominal_values(placement.geometry)
    light, dark, paper = (
        values.of(name)[1] for name in (f"{cell}-light", f"{cell}-dark", BAR_NAMES[0])
    )
    return float((light + dark) / 2 / paper)


def _grey(field: FieldContrast) -> float:
    return float((field.white.mean() + field.black.mean()) / 2)


BAR_NAMES = ("paper", "ink")


def _printed(placement: Placement, cell: str) -> float:
    values = nominal_values(placement.geometry)
    return _printed_modulation(*(values.of(f"{cell}-{part}")[1] for part in ("light", "dark")))


def _printed_modulation(light: float, dark: float) -> float:
    return float((light - dark) / (light + dark))


def _gains(fields: list[FieldContrast], printed: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Logarithmic gains less that of the last field, with their standard errors."""
    seen = np.maximum([modulation(field) for field in fields], LEAST_MODULATION)
    gains = np.log(seen / printed)
    noise = [float(np.mean(field.std)) / max(float(np.mean(field.contrast)), LEAST_MODULATION)
             for field in fields]  # fmt: skip
    return gains - gains[-1], np.hypot(noise, PRINTED_STD)
