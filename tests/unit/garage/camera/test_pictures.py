"""Pictures of rounds carry the moment they were taken at, whatever the zone."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import numpy as np
import pytest

from greasecheck.garage.camera.pictures import keep_newest, keep_picture, newest_of
from greasecheck.garage.camera.rounds import _whole
from greasecheck.measure.ladder.look import LadderView
from greasecheck.measure.photo.load import load_photo

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.model import Photo

PIXELS = np.random.default_rng(1).integers(0, 255, (48, 64, 3)).astype(np.uint8)
OUTLINE = np.array([[5.0, 5], [20, 5], [20, 30], [5, 30]])
AT = datetime(2026, 3, 1, 0, 30, tzinfo=UTC)
ZONES_H = (5.5, 0.0, -9.5)


def at_zone(hours: float, at: datetime = AT) -> datetime:
    return at.astimezone(timezone(timedelta(hours=hours)))


def ladder(tub: int) -> LadderView:
    return LadderView(tub=tub, water=None, ladder=None, checks=(), outline_px=OUTLINE)


@pytest.mark.parametrize("hours", ZONES_H)
def test_a_whole_picture_is_read_with_its_moment(tmp_path: Path, hours: float) -> None:
    photo = load_photo(keep_picture(tmp_path, PIXELS, at_zone(hours)))
    assert photo.taken_at == AT


@pytest.mark.parametrize("hours", ZONES_H)
def test_the_newest_picture_of_a_tub_is_told_by_its_moment(tmp_path: Path, hours: float) -> None:
    keep_newest(tmp_path, PIXELS, [ladder(1), ladder(12)], at_zone(hours))
    for shift_min, kept in ((-1, AT), (1, AT + timedelta(minutes=1))):
        keep_newest(
            tmp_path, PIXELS, [ladder(1)], at_zone(-hours, AT + timedelta(minutes=shift_min))
        )
        picture = newest_of(tmp_path, 1)
        assert picture is not None
        assert picture.at == kept
    other = newest_of(tmp_path, 12)
    assert other is not None
    assert other.at == AT


@pytest.mark.parametrize(("kind", "brightest"), [(np.uint8, 255), (np.uint16, 65_535)])
def test_of_a_deep_picture_the_upper_half_is_kept(
    kind: type[np.uint8 | np.uint16], brightest: int
) -> None:
    step = brightest // 255
    pixels = np.array([[[0, step * 100 + step // 3, brightest]]], dtype=kind)
    deep = cast("Photo", SimpleNamespace(pixels=pixels, full_scale=brightest))
    assert _whole(deep).tolist() == [[[0, 100, 255]]]
