"""How vivid colours are rendered is told by the patches that count."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import numpy as np
import pytest

from greasecheck.measure.colour.saturation import saturation
from greasecheck.reference import known_sheets
from greasecheck.reference.patches.values import nominal_values
from greasecheck.reference.srgb import linear_of_srgb

if TYPE_CHECKING:
    from greasecheck.measure.colour.patches import SheetColours
    from greasecheck.model import BoolArray, FloatArray

SHEET = known_sheets()[-1]
NOMINAL = nominal_values(SHEET)
SEEN = cast("SheetColours", SimpleNamespace(names=NOMINAL.names))
ALL = np.ones(len(NOMINAL.names), bool)
assert NOMINAL.rgb is not None
PRINTED = linear_of_srgb(np.array(NOMINAL.rgb) / 255)
GREY = PRINTED.mean(axis=1, keepdims=True)


def seen(camera: FloatArray, kept: BoolArray = ALL) -> float:
    found = saturation(SEEN, camera, kept, SHEET)
    assert found is not None
    return found


def test_it_is_how_far_channels_lie_apart_over_how_far_they_are_printed() -> None:
    assert seen(PRINTED) == pytest.approx(1, rel=0.05)  # paper is no perfect white
    for vivid in (0.7, 1.3):
        assert seen(GREY + vivid * (PRINTED - GREY)) == pytest.approx(vivid * seen(PRINTED))


def test_patches_that_were_left_out_do_not_count() -> None:
    sound = ALL.copy()
    sound[np.argmax(np.ptp(PRINTED, axis=1))] = False
    spoilt = np.where(sound[:, np.newaxis], PRINTED, GREY)
    assert seen(spoilt, sound) == pytest.approx(seen(PRINTED), rel=0.01)
    assert seen(spoilt) < 0.98 * seen(PRINTED)


def test_a_chart_without_nominal_colours_tells_nothing() -> None:
    assert saturation(SEEN, PRINTED, ALL, replace(SHEET, patch_values=None)) is None
