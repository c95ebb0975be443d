"""What decides which patches count, from both sides of each limit."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.errors import ColourError
from greasecheck.measure.colorimetry import lab_from_xyz
from greasecheck.measure.colour import flatten, model
from greasecheck.measure.colour.camera_tone import fit_camera_tone
from greasecheck.measure.colour.flatten import agreeing, lit_paper, settle, without_own_grey
from greasecheck.measure.colour.light_field import LightField
from greasecheck.measure.colour.model import fit_colour
from greasecheck.measure.colour.patches import (
    SheetColours,
    is_bone_tone,
    is_neutral,
    read_sheet_colours,
)
from greasecheck.measure.colour.residual_light import LightMisfit, light_misfit
from greasecheck.reference import known_sheets
from greasecheck.reference.cie import WHITES, lab_to_xyz
from tests.synthetic.drawn_photo import Scene, draw

if TYPE_CHECKING:
    from greasecheck.measure.colour.camera_tone import CameraTone
    from greasecheck.model import FloatArray, SheetGeometry

SHEET = known_sheets()[0]
EVEN = LightField(
    centre_mm=np.array([130.0, 95.0]),
    half_mm=np.array([130.0, 95.0]),
    level=np.zeros(5),
    hue=np.zeros((2, 3)),
)


def tone(chroma: float, hue_deg: float) -> FloatArray:
    hue = np.radians(hue_deg)
    lab = np.array([[70.0, chroma * np.cos(hue), chroma * np.sin(hue)]])
    return lab_to_xyz(lab, WHITES["D65"])


@pytest.mark.parametrize(("chroma", "neutral"), [(5.9, True), (6.1, False)])
def test_a_grey_has_a_chroma_of_6_at_most(chroma: float, neutral: bool) -> None:
    assert bool(is_neutral(tone(chroma, 200.0))[0]) is neutral


@pytest.mark.parametrize(
    ("chroma", "hue_deg", "is_bone"),
    [
        (2.9, 80.0, False),
        (3.1, 80.0, True),
        (49.5, 80.0, True),
        (50.5, 80.0, False),
        (20.0, 54.5, False),
        (20.0, 55.5, True),
        (20.0, 99.5, True),
        (20.0, 100.5, False),
    ],
)
def test_bone_tones_lie_within_chroma_and_hue(chroma: float, hue_deg: float, is_bone: bool) -> None:
    assert bool(is_bone_tone(tone(chroma, hue_deg))[0]) is is_bone


def colours(
    names: tuple[str, ...], stems: tuple[int, ...], xyz: FloatArray, linear: FloatArray
) -> SheetColours:
    count = len(names)
    return SheetColours(
        names=names,
        stems=np.array(stems),
        xyz=xyz,
        neutral=np.ones(count, dtype=bool),
        points_mm=np.column_stack([np.linspace(10, 250, count), np.full(count, 5.0)]),
        linear=linear,
        bright_share=np.zeros(count),
        dark_share=np.zeros(count),
        unseen_share=np.zeros(count),
        usable=np.ones(count, dtype=bool),
        out_of_gamut=np.zeros(count, dtype=bool),
        known=np.ones(count, dtype=bool),
    )


@pytest.mark.parametrize(("apart", "agrees"), [(0.049, True), (-0.049, True), (0.051, False)])
def test_what_departs_by_a_twentieth_from_its_like_lies_in_a_shadow(
    apart: float, agrees: bool
) -> None:
    names = ("N1a", "N1b", "N1c", "paper", "paper")
    xyz = np.full((5, 3), 50.0)
    even = np.full((5, 3), 0.6)
    even[3:] = 1.0
    even[0] *= 1 + apart
    seen = colours(names, (1, 1, 1, 0, 0), xyz, even)
    assert bool(agreeing(seen, seen.usable, even)[0]) is agrees
    even[4, 2] *= 1 + apart  # one channel is enough
    assert lit_paper(seen, even).tolist() == [False, False, False, True, agrees]


@pytest.mark.parametrize(("measured", "share", "offset"), [(True, 0.01, 0.1), (False, 0.1, 1.5)])
def test_greys_are_known_within_a_share_and_an_offset(
    measured: bool, share: float, offset: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    given = []

    def watched(linear: FloatArray, light: FloatArray, std: FloatArray, **how: float) -> CameraTone:
        given.append(std)
        return fit_camera_tone(linear, light, std, **how)

    monkeypatch.setattr(flatten, "fit_camera_tone", watched)
    luminance = np.array([5.0, 5, 20, 20, 50, 50, 85, 85])
    xyz = luminance[:, None] / 100 * np.array(WHITES["D65"])
    names = ("N1a", "N1b", "N2a", "N2b", "N3a", "N3b", "paper", "paper")
    seen = colours(names, (1, 1, 2, 2, 3, 3, 0, 0), xyz, np.tile(luminance[:, None] / 100, (1, 3)))
    settle(seen, seen.usable, SHEET, measured=measured)
    assert len(given) == 3  # tone and light settle in three turns
    std = np.hypot(share * luminance, offset) / luminance
    assert given[0] == pytest.approx(std)


@pytest.mark.parametrize(("share", "usable"), [(0.07, True), (0.15, False)])
def test_a_patch_may_be_clipped_to_a_tenth(share: float, usable: bool) -> None:
    photo, placement = draw(Scene(noise=0))
    x, y = spots(placement.homography, SHEET, "N3a")
    pixels = photo.pixels.copy()
    high = y[0] + round(share * (y[1] - y[0]))
    pixels[y[0] : high, x[0] : x[1]] = 255
    seen = read_sheet_colours(replace(photo, pixels=pixels), placement, Scene().sheet.measured)
    clear = read_sheet_colours(photo, placement, Scene().sheet.measured)
    place = seen.names.index("N3a")
    assert bool(seen.usable[place]) is usable
    if usable:  # a tenth is trimmed at each end
        assert seen.linear[place] == pytest.approx(clear.linear[place], rel=0.01)


def spots(
    homography: FloatArray, sheet: SheetGeometry, name: str
) -> tuple[tuple[int, int], tuple[int, int]]:
    """Return columns and rows of the part of a patch that is read: 0.15 left out on each side."""
    box = sheet.patches[name]
    inner = box.inset(0.15 * min(box.width_mm, box.height_mm))
    x, y, width, height = inner.x_mm, inner.y_mm, inner.width_mm, inner.height_mm
    corners = np.array([(x, y, 1.0), (x + width, y + height, 1.0)])
    places = corners @ homography.T
    (left, top), (right, bottom) = (places[:, :2] / places[:, 2:]).round().astype(int).tolist()
    return (left, right), (top, bottom)


def test_yellowness_is_known_no_better_than_metamerism_lets() -> None:
    photo, placement = draw(Scene())
    fitted = fit_colour(photo, placement, Scene().sheet.measured)
    xyz = tone(20.0, 80.0)[0]
    own = fitted.yi_error.std(lab_from_xyz(xyz))
    assert fitted.yi_std(xyz) == pytest.approx(np.hypot(own, 0.4))
    typical = fitted.yi_error.std(np.array([75.0, 4.0, 22.0]))
    assert fitted.bone_yi_std == pytest.approx(np.hypot(typical, 0.4))


@pytest.mark.parametrize(
    ("errors", "share"),
    [
        # of 0, 1/2, 1, times 1 + 0.1 (share - 0.4)^2: 1.016, 1.001, 1.036 and the parabola's foot
        ((1.0, 1.0, 1.0), 0.5 - 0.02 / (4 * 0.05)),
        ((1.0, 0.9, 0.9), None),
        ((2.0, 1.0, 0.5), 1.0),
        ((0.5, 1.0, 2.0), 0.0),
        ((1.0, 2.0, 0.9), 1.0),  # no foot: the better end
        ((0.9, 2.0, 1.0), 0.0),
    ],
)
def test_the_luminance_s_share_is_where_the_left_out_error_is_least(
    errors: tuple[float, float, float], share: float | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    of_share = dict(zip((0.0, 0.5, 1.0), errors, strict=True))
    monkeypatch.setattr(model, "_left_out_error", lambda _seen, _kept, _sheet, at: of_share[at])
    nothing = colours((), (), np.zeros((0, 3)), np.zeros((0, 3)))
    found = model._luminance_share(nothing, nothing.usable, SHEET)
    pulled = [of_share[at] * (1 + 0.1 * (at - 0.4) ** 2) for at in (0.0, 0.5, 1.0)]
    if share is None:
        bend, _, end = np.polyfit([0, 0.5, 1], pulled, 2)
        foot = np.polyfit([0, 0.5, 1], pulled, 2)
        share = float(np.clip(-foot[1] / (2 * foot[0]), 0, 1))
        assert bend > 0
        assert end == pytest.approx(pulled[0])
    assert found == pytest.approx(share, abs=1e-9)


@pytest.mark.parametrize(
    ("worst", "others", "is_kept"),
    [
        (3.9, 0.5, True),  # below 4
        (9.9, 2.5, True),  # below four medians
        (10.1, 2.5, False),
        (4.1, 0.5, False),
    ],
)
def test_odd_patches_are_far_off_and_farther_than_four_medians(
    worst: float, others: float, is_kept: bool
) -> None:
    difference = np.array([worst, *[others] * 9])
    kept = model._close(difference, np.arange(10) > 0)
    assert bool(kept[0]) is is_kept
    assert kept[1:].all()


def test_the_worst_patches_go_first() -> None:
    difference = np.array([40.0, 21.0, 19.0, *[0.5] * 9])
    assert model._close(difference, np.ones(12, dtype=bool)).tolist() == [
        False,
        False,
        *[True] * 10,
    ]


@pytest.mark.parametrize(
    ("colour_count", "grey_count", "windows", "enough"),
    [(12, 4, 6, True), (11, 4, 6, False), (12, 3, 6, False), (12, 4, 5, False)],
)
def test_a_fit_needs_twelve_colours_four_greys_and_six_windows(
    colour_count: int, grey_count: int, windows: int, enough: bool
) -> None:
    names = (*(f"P{n}" for n in range(colour_count - 1)), *["paper"] * windows)
    stems = (*range(1, colour_count), *[0] * windows)
    seen = colours(names, stems, np.ones((len(names), 3)), np.ones((len(names), 3)))
    neutral = np.array([n < grey_count or name == "paper" for n, name in enumerate(names)])
    seen = replace(seen, neutral=neutral)
    assert model._enough(seen, seen.usable) is enough


@pytest.mark.parametrize(
    ("bright", "dark", "cause"),
    [(0.31, 0.0, "overexposed"), (0.29, 0.31, "too dark"), (0.29, 0.29, "whole sheet")],
)
def test_the_cause_of_a_refusal_is_a_third_burnt_out_or_black(
    bright: float, dark: float, cause: str
) -> None:
    seen = colours(("N1a", "paper"), (1, 0), np.ones((2, 3)), np.ones((2, 3)))
    spoilt = replace(seen, bright_share=np.array([1.0, bright]), dark_share=np.full(2, dark))
    assert cause in model._cause(spoilt)


def test_bone_tones_weigh_eight_and_greys_two() -> None:
    xyz = np.concatenate([tone(20.0, 80.0), tone(1.0, 200.0), tone(40.0, 200.0), tone(4.0, 80.0)])
    assert model._importance(xyz).tolist() == [8.0, 2.0, 1.0, 8.0]


def misfit(camera: FloatArray, names: tuple[str, ...], stems: tuple[int, ...]) -> LightMisfit:
    seen = colours(names, stems, np.ones((len(names), 3)), camera)
    return light_misfit(seen, camera, EVEN, SHEET)


def test_twins_part_by_their_median_departure_in_green() -> None:
    names = ("N1a", "N1b", "N2a", "N2b", "N3a", "N3b", "N4", "paper")
    camera = np.ones((8, 3))
    camera[[1, 3, 5], 1] = np.exp([0.02, 0.05, -0.3])
    camera[2:4, 1] *= np.exp(0.4)  # what sets one colour apart from the next does not count
    camera[6, 1] = 3.0
    camera[1, 0] = 5.0
    assert misfit(camera, names, (1, 1, 2, 2, 3, 3, 4, 0)).twins == pytest.approx(0.05)
    assert misfit(camera[6:], names[6:], (4, 0)).twins == 0


@pytest.mark.parametrize(("windows", "known"), [(3, False), (4, True)])
def test_four_windows_show_a_misfit_of_light(windows: int, known: bool) -> None:
    camera = np.ones((windows, 3))
    camera[0] *= np.exp(0.2)
    camera[1, 0] *= np.exp(0.12)
    found = misfit(camera, ("paper",) * windows, (0,) * windows)
    level = np.sqrt((0.2**2 + 0.04**2) / windows)
    assert found.level == pytest.approx(level if known else 1.0)
    assert found.hue == pytest.approx(0.12 * np.sqrt(3) / 4 if known else 1.0)
    black = misfit(np.zeros((4, 3)), ("paper",) * 4, (0,) * 4)
    assert black.level == pytest.approx(np.log(1000))


@pytest.mark.parametrize(("away_mm", "counts"), [(11.5, False), (12.5, True)])
@pytest.mark.parametrize("side", ["left", "right", "top", "bottom"])
def test_paper_within_12_mm_of_the_jar_is_left_out(side: str, away_mm: float, counts: bool) -> None:
    assert SHEET.jar is not None
    zone = SHEET.jar.zone
    x, y = zone.centre_mm
    place = {
        "left": (zone.x_mm - away_mm, y),
        "right": (zone.x_mm + zone.width_mm + away_mm, y),
        "top": (x, zone.y_mm - away_mm),
        "bottom": (x, zone.y_mm + zone.height_mm + away_mm),
    }[side]
    seen = colours(("paper",), (0,), np.ones((1, 3)), np.ones((1, 3)))
    moved = replace(seen, points_mm=np.array([place]))
    window = light_misfit(moved, np.ones((1, 3)), EVEN, SHEET).windows[0]
    assert (window is not None) is counts


def test_greys_agree_once_the_light_is_taken_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Under light that falls off, the one grey that lies in a shadow is left out."""
    chosen: list[FloatArray] = []

    def watched(linear: FloatArray, light: FloatArray, std: FloatArray, **how: float) -> CameraTone:
        chosen.append(linear[:, 1])
        return fit_camera_tone(linear, light, std, **how)

    monkeypatch.setattr(flatten, "fit_camera_tone", watched)
    luminance = np.repeat([5.0, 20.0, 50.0, 85.0], 4)
    names = tuple(f"N{n}{twin}" for n in range(3) for twin in "abcd") + ("paper",) * 4
    xyz = luminance[:, None] / 100 * np.array(WHITES["D65"])
    seen = colours(names, tuple(np.repeat([1, 2, 3, 0], 4)), xyz, np.zeros((16, 3)))
    x = np.tile([20.0, 90.0, 170.0, 240.0], 4)
    points = np.column_stack([x, np.repeat([20.0, 60.0, 120.0, 170.0], 4)])
    light = np.exp(-0.3 * (x - 130) / 130)
    dim = np.where(np.arange(16) == 5, 0.8, 1.0)
    linear = np.repeat((luminance / 100 * light * dim)[:, None], 3, axis=1)
    lit = replace(seen, points_mm=points, linear=linear)
    settle(lit, lit.usable, SHEET, measured=True)
    assert len(chosen[-1]) >= 12
    assert not np.isclose(chosen[-1], linear[5, 1]).any()


def test_greys_that_all_look_alike_are_refused() -> None:
    """Such as under glare or a lens cap: each lies where it should, none is darker than another."""
    names = ("N1", "N2", "N3", "N4", "paper", "paper")
    xyz = np.outer([5.0, 20, 40, 60, 85, 85], np.array(WHITES["D65"]) / 100)
    seen = colours(names, (1, 2, 3, 4, 0, 0), xyz, np.full((6, 3), 0.4))
    with pytest.raises(ColourError, match="do not agree"):
        settle(seen, seen.usable, SHEET, measured=True)


def test_a_grey_that_bends_the_curve_is_told_by_the_others_alone() -> None:
    """One grey is a fifth too bright: its own fit hides that, the others' tone does not."""
    names = ("N1", "N2", "N3", "N4", "N5", "paper", "paper")
    xyz = np.outer([4.0, 10, 20, 36, 60, 85, 85], np.array(WHITES["D65"]) / 100)
    linear = np.outer([4.0, 10, 20, 36 * 1.2, 60, 85, 85], np.ones(3)) / 100
    seen = colours(names, (1, 2, 3, 4, 5, 0, 0), xyz, linear)
    even = settle(seen, seen.usable, SHEET, measured=True)
    own = even(seen.linear, seen.points_mm)[:, 1] * 85 / xyz[:, 1] - 1
    others = without_own_grey(seen, seen.usable, even, measured=True)
    apart = others[:, 1] * 85 / xyz[:, 1] - 1
    assert apart[3] == pytest.approx(0.2, abs=0.04)
    assert apart[3] > 1.5 * own[3]
