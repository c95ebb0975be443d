"""Several photos of clear water become one reference, worked by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from greasecheck.errors import WaterError
from greasecheck.measure.sight.bars import Alignment
from greasecheck.measure.sight.glass import GlassView
from greasecheck.measure.sight.view import FieldPair, SightView
from greasecheck.measure.water.reference import ClearPhoto, make_clear_water, unknown_jar
from tests.synthetic.bar_pairs import CLEAR
from tests.unit.measure.water.test_surroundings import THEN

AT = datetime(2026, 3, 1, 9, tzinfo=UTC)


def seen(ratio: float, dry_std: float = 0.01, shift_mm: float = -1.0) -> FieldPair:
    """Return a pair whose wet bars have a ratio in all bands but the upper ones, a tenth less."""
    bands = np.full((7, 3), ratio * 0.95)
    bands[:2] *= 0.9
    wet = replace(CLEAR.wet, bands=bands, alignment=Alignment(shift_mm=shift_mm, stretch=1.02))
    return replace(CLEAR, wet=wet, dry=replace(CLEAR.dry, std=np.full(3, dry_std)))


def photo(ratio: float, hours: float = 0, glass: float | None = None, **how: float) -> ClearPhoto:
    view = None if glass is None else GlassView(modulation=glass, std=0.01, used_share=1.0)
    pair = seen(ratio, **how)
    return ClearPhoto(
        sight=SightView(fine=pair, coarse=pair, glass=view),
        sheet_version=2,
        taken_at=AT + timedelta(hours=hours),
        camera="plain",
        name=f"clear at {hours}",
        surroundings=replace(THEN, span_mm=400.0 + hours),
    )


def test_photos_are_averaged_band_by_band_and_their_scatter_is_the_error() -> None:
    made = make_clear_water(
        [
            photo(0.90, 0, 0.95, shift_mm=-1.0, dry_std=0.001),
            photo(0.92, 2, 0.97, shift_mm=-2.0, dry_std=0.001),
            photo(0.91, 1, None, dry_std=0.001),
        ],
        60.0,
    )
    assert made.fine.ratio[0] == pytest.approx((0.91 * 0.9,) * 3)
    assert made.fine.ratio[6] == pytest.approx((0.91,) * 3)
    scatter = np.std([0.90 / 0.91, 0.92 / 0.91, 1.0], ddof=1)
    assert made.fine.relative_std == pytest.approx((scatter / np.sqrt(3),) * 3)
    assert made.fine.alignment.shift_mm == pytest.approx(-4 / 3)
    assert made.fine.alignment.stretch == pytest.approx(1.02)
    assert made.glass_modulation == pytest.approx(0.96)
    assert (made.photos, made.taken_at) == (3, AT + timedelta(hours=2))
    assert made.surroundings == replace(THEN, span_mm=402.0)


def test_one_photo_is_as_sure_as_its_bars() -> None:
    made = make_clear_water([photo(0.9, dry_std=0.0095)], 60.0)
    assert made.fine.relative_std == pytest.approx((np.sqrt(2) * 0.01,) * 3)
    noisy = make_clear_water([photo(0.9, dry_std=0.0095), photo(0.9, dry_std=0.019)], 60.0)
    # root mean square of 0.01 and 0.02, times and over the root of two
    assert noisy.fine.relative_std == pytest.approx(
        (np.sqrt(2) * np.sqrt(2.5e-4) / np.sqrt(2),) * 3
    )


@pytest.mark.parametrize(("apart", "is_fine"), [(0.029, True), (0.031, False)])
def test_photos_that_differ_by_3_percent_from_their_mean_are_refused(
    apart: float, is_fine: bool
) -> None:
    photos = [photo(0.9 * (1 + apart), 0), photo(0.9 * (1 - apart), 1)]
    if is_fine:
        assert make_clear_water(photos, 60.0).photos == 2
        return
    with pytest.raises(WaterError, match="by more than 3%"):
        make_clear_water(photos, 60.0)


def test_photos_of_two_cameras_or_none_make_no_reference() -> None:
    other = replace(photo(0.9, 1), camera="other")
    with pytest.raises(WaterError, match="different cameras"):
        make_clear_water([photo(0.9), other], 60.0)
    with pytest.raises(WaterError, match="no photo"):
        make_clear_water([], 60.0)


def test_a_jar_of_which_nothing_is_known_is_so_unsure() -> None:
    stand_in = unknown_jar(60.0, 1)
    assert stand_in.fine.mean_ratio == pytest.approx((0.85,) * 3)
    assert stand_in.fine.relative_std == pytest.approx((0.2 / 0.85,) * 3)
    assert len(stand_in.fine.ratio) == 7
