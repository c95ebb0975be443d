"""Bone beside the card on rendered photographs: what is measured, asked and refused."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

import cv2
import numpy as np
import pytest

from greasecheck.measure import reading as reading_module
from greasecheck.measure.card.pieces import LEAST_LARGEST_MM2
from greasecheck.measure.reading import PhotoView, ReadSettings, view_photo
from greasecheck.measure.sheet.charts import SeenCharts
from greasecheck.model import (
    BoneState,
    Drawn,
    LeftOutReason,
    ReadingKind,
    Stroke,
    Verdict,
)
from tests.synthetic.bone_scene.render import Stray
from tests.synthetic.bone_scene.scenes import BonePhoto, SceneOrder, photograph
from tests.synthetic.spectral_simulation import CAMERAS, printed_card

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

PLAIN = SceneOrder(
    name="plain",
    kind="round brain case",
    length_mm=145.0,
    light="window",
    camera=CAMERAS[0],
    seed=4,
    tilt_deg=25.0,
    azimuth_deg=70.0,
    grease=0.35,
    size_px=(960, 720),
)
ANTLERED = replace(PLAIN, kind="antlered", seed=8, tilt_deg=10.0)


@cache
def shot(order: SceneOrder) -> BonePhoto:
    return photograph(order)


def view(folder: Path, order: SceneOrder, *drawn: Drawn) -> PhotoView:
    path = folder / f"{order.name}.jpg"
    path.write_bytes(shot(order).jpeg)
    settings = ReadSettings(
        values=printed_card().measured, bone_state=BoneState.DRY, drawn=drawn, tub=3
    )
    return view_photo(path, settings)


def found(seen: PhotoView, like: BonePhoto) -> NDArray[np.bool_]:
    """The outlines told, filled, in the photo's pixels."""
    assert seen.reading.bone is not None
    canvas = np.zeros(like.bone.shape, np.uint8)
    for piece in seen.reading.bone.pieces:
        cv2.fillPoly(canvas, [np.rint(np.array(piece.outline_px)).astype(np.int32)], (1,))
        for hole in piece.holes_px:
            cv2.fillPoly(canvas, [np.rint(np.array(hole)).astype(np.int32)], (0,))
    return canvas > 0


def failed(seen: PhotoView) -> set[str]:
    return {check.name for check in seen.reading.checks if not check.passed}


def test_a_skull_larger_than_any_rest_is_read_within_its_errors(tmp_path: Path) -> None:
    large = replace(PLAIN, name="large", length_mm=320.0, grease=0.05, size_px=(1500, 1125))
    seen, truth = view(tmp_path, large), shot(large)
    reading = seen.reading
    assert (reading.kind, reading.tub, reading.water) == (ReadingKind.BONE, 3, None)
    assert reading.bone is not None
    error = reading.bone.yi_e313 - float(np.median(truth.yellowness))
    assert abs(error) < 2.5 * reading.bone.yi_std < 10
    overlap = found(seen, truth)
    assert (overlap & truth.bone).sum() / (overlap | truth.bone).sum() > 0.93
    assert failed(seen) == {"time_from_camera"}


def test_a_card_too_small_for_a_glance_is_found_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reading_module, "seen_charts", lambda _: SeenCharts())
    seen = view(tmp_path, PLAIN)
    assert (seen.reading.kind, seen.reading.bone is None) == (ReadingKind.BONE, False)


def test_antlers_are_left_out_and_asked_about(tmp_path: Path) -> None:
    seen, truth = view(tmp_path, ANTLERED), shot(ANTLERED)
    assert seen.reading.verdict is Verdict.DOUBTFUL
    assert "brown_share" in failed(seen)
    assert seen.reading.bone is not None
    assert LeftOutReason.BROWN in {one.reason for one in seen.reading.bone.left_out}
    overlap = found(seen, truth)
    assert (overlap & truth.bone).sum() / (overlap | truth.bone).sum() > 0.88


@pytest.mark.parametrize(
    ("odd", "names"),
    [
        ("no bone", {"bone"}),
        ("white cloth", {"bone"}),
        ("two skulls", {"pieces_like_skulls"}),
        ("hand", {"reddish_share_of_bone"}),
    ],
)
def test_what_cannot_be_told_is_refused_or_asked(tmp_path: Path, odd: str, names: set[str]) -> None:
    seen = view(tmp_path, replace(PLAIN, name=odd, odd=odd))
    assert seen.reading.verdict is not Verdict.GOOD
    assert names <= failed(seen)


def test_what_is_smaller_than_half_a_shrews_skull_is_no_bone(tmp_path: Path) -> None:
    crumb, shrew = (
        replace(PLAIN, name=f"{mm} mm", length_mm=mm, size_px=(1500, 1125)) for mm in (7.5, 18.0)
    )
    assert view(tmp_path, crumb).reading.bone is None
    small = view(tmp_path, shrew).reading.bone
    assert small is not None
    assert small.area_mm2 > LEAST_LARGEST_MM2


@pytest.mark.parametrize(("lamp", "level"), [("LED-B5", 1.0), ("FL11", 0.6), ("D50", 1.4)])
def test_a_lamp_on_the_bone_alone_is_never_good(tmp_path: Path, lamp: str, level: float) -> None:
    stray = Stray(lamp=lamp, level=level, radius_mm=85.0, soft_mm=40.0)
    order = replace(PLAIN, name=f"stray {lamp}", stray=stray)
    seen, truth = view(tmp_path, order), shot(order)
    assert "bone_light_yi_std" in failed(seen)
    assert seen.reading.bone is not None
    error = seen.reading.bone.yi_e313 - float(np.median(truth.yellowness))
    assert abs(error) < 3 * seen.reading.bone.yi_std


def test_more_light_of_the_same_hue_widens_nothing(tmp_path: Path) -> None:
    stray = Stray(lamp="D65", level=0.8, radius_mm=85.0, soft_mm=40.0)
    order = replace(PLAIN, name="own", stray=stray)
    seen, truth = view(tmp_path, order), shot(order)
    assert seen.reading.bone is not None
    error = seen.reading.bone.yi_e313 - float(np.median(truth.yellowness))
    assert abs(error) < 2.5 * seen.reading.bone.yi_std < 12


def test_an_outline_that_takes_in_the_cloth_that_a_lamp_lights_is_doubted(tmp_path: Path) -> None:
    stray = Stray(lamp="D65", level=1.8, radius_mm=85.0, soft_mm=15.0)
    order = replace(PLAIN, name="pool", kind="thin arches", stray=stray)
    seen, truth = view(tmp_path, order), shot(order)
    overlap = found(seen, truth)
    assert (overlap & truth.bone).sum() / (overlap | truth.bone).sum() < 2 / 3
    assert "dark_share_of_bone" in failed(seen)


def test_a_loop_leaves_out_what_lies_in_it_and_a_tap_takes_a_piece_out(tmp_path: Path) -> None:
    plain = view(tmp_path, PLAIN)
    mask = found(plain, shot(PLAIN))
    rows, columns = np.nonzero(mask)
    left, top = float(columns.min() - 5), float(rows.min() - 5)
    middle, bottom = float(np.median(columns)), float(rows.max() + 5)
    loop = ((left, top), (middle, top), (middle, bottom), (left, bottom))
    half = view(tmp_path, PLAIN, Drawn(stroke=Stroke.LEAVE_OUT, points=loop, in_px=True))
    assert plain.reading.bone is not None
    assert half.reading.bone is not None
    share = half.reading.bone.area_mm2 / plain.reading.bone.area_mm2
    assert share == pytest.approx(0.5, abs=0.12)
    assert [one.reason for one in half.reading.bone.left_out] == [LeftOutReason.DRAWN]
    tap = Drawn(stroke=Stroke.TAP, points=((float(columns[0]), float(rows[0] + 9)),), in_px=True)
    assert "bone" in failed(view(tmp_path, PLAIN, tap))
    again = view(tmp_path, PLAIN, tap, tap).reading.bone
    assert again is not None
    assert again.area_mm2 == pytest.approx(plain.reading.bone.area_mm2, rel=0.02)


def test_an_outline_replaces_what_was_found(tmp_path: Path) -> None:
    rows, columns = np.nonzero(shot(PLAIN).bone)
    x, y = float(columns.mean()), float(rows.mean())
    square = ((x - 20, y - 20), (x + 20, y - 20), (x + 20, y + 20), (x - 20, y + 20))
    seen = view(tmp_path, PLAIN, Drawn(stroke=Stroke.OUTLINE, points=square, in_px=True))
    assert found(seen, shot(PLAIN)).sum() == pytest.approx(1600, rel=0.1)
