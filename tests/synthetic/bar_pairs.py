"""Fields of bars behind a jar and beside it, of known light, without any photo."""

import numpy as np
from numpy.typing import NDArray

from greasecheck.measure.sight.bars import Alignment
from greasecheck.measure.sight.cells import FieldContrast
from greasecheck.measure.sight.phase import Edges, Stretch
from greasecheck.measure.sight.view import FieldPair

FloatArray = NDArray[np.float64]

HERE = Alignment(shift_mm=0.0, stretch=1.0)
WHITE, BLACK = 0.98, 0.03


def field(
    white: FloatArray, black: FloatArray, lean: tuple[float, float] = (0.0, 0.0)
) -> FieldContrast:
    contrast = white - black
    return FieldContrast(
        contrast=contrast,
        std=np.full(3, 1e-4),
        bands=np.tile(contrast, (7, 1)),
        bands_std=np.full(3, 3e-4),
        white=white,
        black=black,
        black_bands=np.tile(black, (7, 1)),
        alignment=HERE,
        used_share=1.0,
        unevenness=0.005,
        lean=lean,
    )


def pair(
    kept: FloatArray, white_kept: FloatArray, lean: tuple[float, float] = (0.0, 0.0)
) -> FieldPair:
    """Bars whose white keeps a share of light, and whose contrast keeps another."""
    dry = field(np.full(3, WHITE), np.full(3, BLACK))
    white = white_kept * WHITE
    return FieldPair(
        bar_mm=8.0,
        width_mm=48.0,
        wet=field(white, white - kept * (WHITE - BLACK), lean),
        dry=dry,
        clipped_share=0.0,
        edges=Edges(at_least=1.0, at_most=1.0),
        stretch=Stretch(value=1.02, std=1e-4),
    )


CLEAR = pair(np.ones(3), np.ones(3))
