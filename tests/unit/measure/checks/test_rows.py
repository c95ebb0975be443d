"""A figure that is off fails the check that is named for it, and no other."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any, cast

import numpy as np
import pytest

from greasecheck.measure.bone.one_colour import OneColour
from greasecheck.measure.checks import verdict
from greasecheck.measure.photo.exif import UNKNOWN_CAMERA
from greasecheck.measure.sight.contrast_ladder import LadderView
from greasecheck.measure.sight.glass import GlassView
from greasecheck.measure.sight.jar_light import JarLightChange
from greasecheck.measure.sight.phase import Edges
from greasecheck.measure.sight.shade import WaterShade
from greasecheck.measure.sight.veil_edge import veil_down
from greasecheck.measure.sight.view import SightView
from greasecheck.measure.water.attenuation import WaterView
from greasecheck.measure.water.jar_depth import JarDepth
from greasecheck.measure.water.light import UNKNOWN
from greasecheck.measure.water.reference import unknown_jar
from greasecheck.measure.water.surroundings import Changes
from greasecheck.measure.water.transmittance import JarState
from greasecheck.model import Placement, TimeSource, WaterReading
from greasecheck.reference import known_sheets
from greasecheck.words.photos.checks import check_words
from tests.synthetic.bar_pairs import CLEAR, HERE, pair

if TYPE_CHECKING:
    from collections.abc import Iterable

    from greasecheck.measure.bone.look import BoneView
    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.measure.sight.view import FieldPair
    from greasecheck.model import Check, Photo

CAMERA = "Acme"
SHEET = next(one for one in known_sheets() if one.bars is not None and one.bars.glass is not None)
EVEN = np.full((7, 3), 0.02)
BELOW = EVEN + 0.05 * (np.arange(7) > 3)[:, np.newaxis]
WET = SHEET.sight.wet_coarse, SHEET.sight.wet_fine
RUNGS = np.array([0.06, 0.12, 0.25, 0.5, 0.9])
FAINT = np.where(RUNGS < 0.28, 1.0, 0.0)
NOTHING = np.zeros(len(RUNGS))
LADDER = LadderView(
    printed=RUNGS,
    fine=NOTHING,
    coarse=NOTHING,
    fine_std=NOTHING + 0.01,
    coarse_std=NOTHING + 0.01,
    greys=np.array([0.1, 0.3, 0.5, 0.8]),
    levels=np.full(4, verdict.PLAIN_LIFT),
)
FINE = replace(CLEAR, bar_mm=2.0)
SIGHT = SightView(
    fine=FINE,
    coarse=CLEAR,
    glass=GlassView(modulation=1.0, std=0.001, used_share=1.0),
    ladder=LADDER,
    shade=WaterShade(dark=0.4, bright=0.9, reach_mm=30.0),
    lift=0.0,
    veil_down=veil_down(WET, (EVEN, EVEN)),
)
VIEW = WaterView(
    reading=WaterReading(
        attenuation_rgb_per_m=(1.0, 1.0, 1.0),
        main_per_m=1.0,
        std_per_m=0.1,
        bound=None,
        forward_scatter=None,
        tint_yi=0.0,
        path_mm=60.0,
        dilution=1.0,
        turbidity=None,
        turbidity_std=None,
        turbidity_unit="",
    ),
    sight=SIGHT,
    clear=replace(
        unknown_jar(60.0, SHEET.version),
        camera=CAMERA,
        glass_modulation=1.0,
        veil_down=SIGHT.veil_down,
    ),
    light=(UNKNOWN, UNKNOWN),
    changes=Changes(distance_ratio=1.0, light_ratio=0.0, paper=0.0, loo_delta_e00=0.0, balance=0.0),
    depth=JarDepth(ratio=1.0, std=0.001),
    jar_state=JarState.FILLED,
    displacement_mm=0.0,
    below_clear_std=0.0,
    disagreement_std=0.0,
    fine_alone_lost=False,
)


def failed(rows: Iterable[Check]) -> set[str]:
    return {row.name for row in rows if not row.passed}


def of_water(view: WaterView) -> set[str]:
    return failed(verdict.water_checks(view, CAMERA, has_reference=True))


def seen(**changed: Any) -> WaterView:  # noqa: ANN401 - fields of SightView
    return replace(VIEW, sight=replace(SIGHT, **changed))


def fields(**changed: Any) -> list[WaterView]:  # noqa: ANN401 - fields of either
    """Return a view with something wrong with the fine bars, and one with the coarse ones."""
    bars: dict[str, FieldPair] = {"fine": SIGHT.fine, "coarse": SIGHT.coarse}
    if "clipped_share" in changed:
        return [seen(**{which: replace(one, **changed)}) for which, one in bars.items()]
    return [
        seen(**{which: replace(one, wet=replace(one.wet, **changed))})
        for which, one in bars.items()
    ]


def lit(name: str, value: float) -> list[WaterView]:
    """Return a view with light that differs on the fine bars, and one on the coarse ones."""
    other = replace(UNKNOWN, **{name: value, "lost_depth": 0.2})
    return [replace(VIEW, light=light) for light in ((other, UNKNOWN), (UNKNOWN, other))]


def changed(**values: Any) -> WaterView:  # noqa: ANN401 - fields of Changes
    return replace(VIEW, changes=replace(VIEW.changes, **values))


def climbed(**values: Any) -> WaterView:  # noqa: ANN401 - fields of LadderView
    return seen(ladder=replace(LADDER, **values))


OFF: dict[str, list[WaterView]] = {
    "fine_edges_behind_jar": [seen(fine=replace(FINE, edges=Edges(at_least=0.4, at_most=0.5)))],
    "fine_edges_over_dry": [seen(fine=replace(FINE, edges=Edges(at_least=1.4, at_most=1.5)))],
    "bar_contrast_hole": [seen(hole=0.1)],
    "bar_contrast_grain": [seen(grain=0.1)],
    "colour_lost_at_edges": [seen(colour_lost=0.2)],
    "sight_clipped_share": fields(clipped_share=0.1),
    "sight_used_share": fields(used_share=0.7),
    "sight_unevenness": fields(unevenness=0.08),
    "faint_contrast_gain": [
        climbed(coarse=gain * FAINT, fine=gain * FAINT) for gain in (-0.2, 0.2)
    ],
    "faint_fine_contrast_loss": [climbed(fine=gain * FAINT) for gain in (-0.2, 0.2)],
    "dark_areas_lift": [climbed(levels=LADDER.levels + lift) for lift in (-0.1, 0.1)],
    "paper_lift_by_surroundings": [seen(lift=0.5)],
    "fine_bars_seen_with_coarse": [replace(VIEW, fine_alone_lost=True)],
    "reference_camera": [replace(VIEW, clear=replace(VIEW.clear, camera="Other"))],
    "bar_displacement_mm": [replace(VIEW, displacement_mm=2.0)],
    "jar_depth_error": [
        replace(VIEW, depth=JarDepth(ratio=ratio, std=0.001)) for ratio in (0.8, 1.2)
    ],
    "edge_of_veil": [seen(veil_down=veil_down(WET, (BELOW, EVEN + 0.05)))],
    "dry_bars_light_change": lit("dry_level", 0.1),
    "dry_black_change": lit("dry_black", 0.05)[1:],  # of fine bars blur lightens the black ones
    "shadow_on_jar": lit("dim_depth", 0.19),
    "white_gain_by_water": lit("white_gain", 0.1),
    "bright_depth_of_bars": lit("bright_depth", 0.1),
    "bar_contrast_lean": lit("lean", 0.1),
    "bar_contrast_step": lit("step", 0.1),
    "paper_light_change": [changed(paper=0.05)],
    "light_ratio_change": [changed(light_ratio=ratio) for ratio in (-0.3, 0.3)],
    "loo_delta_e00_change": [changed(loo_delta_e00=2.0)],
    "white_balance_change": [changed(balance=0.1)],
    "saturation_change": [changed(saturation=log) for log in (-0.2, 0.2)],
    "jar_light_change": [
        changed(jar=JarLightChange(dimmed=one, brightened=0.1 - one)) for one in (0.0, 0.1)
    ],
    "bars_brightened_std": [replace(VIEW, brightened_std=3.0)],
    "below_clear_water_std": [replace(VIEW, below_clear_std=4.0)],
    "water_model_misfit_std": [replace(VIEW, disagreement_std=10.0)],
}


def test_a_sound_photo_fails_nothing() -> None:
    assert of_water(VIEW) == set()


@pytest.mark.parametrize(("name", "views"), OFF.items(), ids=OFF)
def test_each_figure_of_the_water_fails_its_own_check(name: str, views: list[WaterView]) -> None:
    assert [of_water(view) for view in views] == [{name}] * len(views)


@pytest.mark.parametrize(
    ("camera", "of_reference"), [(CAMERA, UNKNOWN_CAMERA), (UNKNOWN_CAMERA, CAMERA)]
)
def test_a_copy_that_names_no_camera_is_not_told_to_make_a_reference(
    camera: str, of_reference: str
) -> None:
    view = replace(VIEW, clear=replace(VIEW.clear, camera=of_reference))
    rows = verdict.water_checks(view, camera, has_reference=True)
    [words] = [check_words(row) for row in rows if not row.passed]
    assert "does not name its camera" in words


@pytest.mark.parametrize(("modulation", "cause"), [(0.9, ""), (1.1, "bare")])
def test_no_glass_becomes_clearer_than_clean(modulation: float, cause: str) -> None:
    view = seen(glass=GlassView(modulation=modulation, std=0.001, used_share=1.0))
    rows = verdict.water_checks(view, CAMERA, has_reference=True)
    assert [(row.name, row.note) for row in rows if not row.passed] == [("glass_change", cause)]


@pytest.mark.parametrize("kept", [0.5, 0.1])
def test_murk_fades_edges_as_far_as_it_may(kept: float) -> None:
    """The fundamental of 2 mm bars keeps 0.87 of the attenuation, edges keep all of it."""
    edges = kept ** (1 / 0.87) / kept
    murky = replace(
        pair(np.full(3, kept), np.full(3, kept)), edges=Edges(at_least=0, at_most=edges)
    )
    assert of_water(seen(fine=murky)) == set()
    smeared = replace(murky, edges=Edges(at_least=0.0, at_most=0.9 * edges))
    assert of_water(seen(fine=smeared)) == {"fine_edges_behind_jar"}


PLACED = Placement(
    homography=np.eye(3),
    lens=None,
    geometry=SHEET,
    marker_ids=(),
    tag=None,
    pixels_per_mm=5.0,
    tilt_deg=2.0,
    residual_px=0.1,
    tag_scale=1.0,
)


def colours(**changed: Any) -> ColourModel:  # noqa: ANN401 - figures of any kind
    known = {"clipped_share": 0.0, "gradient_ratio": 1.5, "loo_delta_e00": 1.0}
    misfit = {"level": 0.0, "twins": 0.0, "hue": 0.0, "largest_hue_slope": 0.0}
    fit = {name: changed.get(name, value) for name, value in known.items()}
    left = {name: changed.get(name, value) for name, value in misfit.items()}
    model = SimpleNamespace(
        fit=SimpleNamespace(**fit),
        misfit=SimpleNamespace(**left),
        white=np.array([0.05, 0.5, 0.05]) * changed.get("white", 1.0),
        dropped=changed.get("dropped", ()),
    )
    return cast("ColourModel", model)


@pytest.mark.parametrize(
    ("name", "changed"),
    [
        ("paper_level", {"white": 0.2}),
        ("clipped_share", {"clipped_share": 0.1}),
        ("light_gradient_ratio", {"gradient_ratio": 4.0}),
        ("light_misfit", {"level": 0.1}),
        ("twin_patches_apart", {"twins": 0.1}),
        ("hue_misfit", {"hue": 0.1}),
        ("hue_slope", {"largest_hue_slope": 0.2}),
        ("patches_left_out", {"dropped": tuple("abcde")}),
        ("loo_delta_e00", {"loo_delta_e00": 5.0}),
    ],
)
def test_each_figure_of_the_colours_fails_its_own_check(name: str, changed: dict[str, Any]) -> None:
    assert failed(verdict.colour_checks(colours(), SHEET)) == set()
    assert failed(verdict.colour_checks(colours(**changed), SHEET)) == {name}


@pytest.mark.parametrize(
    ("name", "changed"),
    [
        ("sheet_px_per_mm", {"pixels_per_mm": 2.0}),
        ("tilt_deg", {"tilt_deg": 30.0}),
        ("tag_to_sheet_scale_error", {"tag_scale": 0.96}),
        ("tag_to_sheet_scale_error", {"tag_scale": 1.04}),
    ],
)
def test_each_figure_of_the_place_fails_its_own_check(name: str, changed: dict[str, Any]) -> None:
    assert failed(verdict.sheet_checks(PLACED)) == set()
    assert failed(verdict.sheet_checks(replace(PLACED, **changed))) == {name}


SHIFTED = replace(CLEAR.wet, alignment=replace(HERE, stretch=1.02))
BLUE_LOST = replace(SHIFTED, contrast=CLEAR.dry.contrast * [1.0, 1.0, 0.4])
BLUE_VEIL = replace(CLEAR.wet, black=CLEAR.wet.black + np.array([0.0, 0.0, 0.12]))


@pytest.mark.parametrize(
    ("name", "changed"),
    [
        ("bar_shift_by_water_mm", {"fine": CLEAR}),  # as if no water stood before them
        ("clear_contrast_ratio", {"fine": replace(CLEAR, wet=BLUE_LOST)}),
        ("veil_of_clear_water", {"coarse": replace(CLEAR, wet=BLUE_VEIL)}),
        ("light_under_surface", {"shade": WaterShade(dark=0.7, bright=0.9, reach_mm=30.0)}),
        ("lamp_elevation_deg", {"shade": WaterShade(dark=0.4, bright=0.9, reach_mm=62.0)}),
        ("lamp_elevation_deg", {"shade": WaterShade(dark=0.4, bright=0.9, reach_mm=None)}),
        ("glass_modulation", {"glass": GlassView(modulation=0.9, std=0.001, used_share=1.0)}),
    ],
)
def test_each_figure_of_clear_water_fails_its_own_check(name: str, changed: dict[str, Any]) -> None:
    sound = replace(SIGHT, fine=replace(CLEAR, wet=SHIFTED))
    for sight, expected in ((sound, set()), (replace(sound, **changed), {name})):
        assert failed(verdict.clear_water_checks(PLACED, colours(), sight, 60.0)) == expected


@pytest.mark.parametrize(("above_mm", "hard"), [(0.0, None), (3.0, False), (6.0, True)])
def test_one_band_above_the_water_is_doubted_and_named_first(
    above_mm: float, hard: bool | None
) -> None:
    view = seen(above_mm=above_mm)
    clear = replace(view.sight, fine=replace(CLEAR, wet=SHIFTED))
    for rows in (
        verdict.water_checks(view, CAMERA, has_reference=True),
        verdict.clear_water_checks(PLACED, colours(), clear, 60.0),
    ):
        expected = [] if hard is None else [("bars_above_water_mm", hard)]
        assert [(row.name, row.hard) for row in rows if not row.passed] == expected


def test_bars_that_nothing_shifts_show_an_empty_jar_not_a_low_one() -> None:
    empty = replace(SIGHT, fine=CLEAR, above_mm=30.0)
    rows = verdict.clear_water_checks(PLACED, colours(), empty, 60.0)
    assert failed(rows) == {"bar_shift_by_water_mm"}


@pytest.mark.parametrize("which", ["fine", "coarse"])
def test_one_cell_of_either_field_tells_that_something_stands_before_the_bars(which: str) -> None:
    assert failed(verdict.bare_sight_checks(SIGHT)) == set()
    bars: FieldPair = getattr(SIGHT, which)
    hidden = seen(**{which: replace(bars, wet=replace(bars.wet, used_share=0.9))})
    assert failed(verdict.bare_sight_checks(hidden.sight)) == {"left_bars_bare"}


def bone(**changed: Any) -> BoneView:  # noqa: ANN401 - figures of any kind
    turn = np.linspace(0, 2 * np.pi, 200)
    known = {
        "outlines_mm": (np.column_stack([40 * np.cos(turn), 25 * np.sin(turn)]),),
        "reddish_share": 0.0,
        "least_yellow": 10.0,
        "hue_off_sheet": 0.0,
        "ground_gain": 0.0,
        "reading": SimpleNamespace(yellow_share_std=0.05),
        "one_colour": OneColour(corners_yi=0.0, filled_yi=0.0),
    }
    return cast("BoneView", SimpleNamespace(**{**known, **changed}))


@pytest.mark.parametrize(
    ("name", "changed"),
    [
        ("reddish_share_of_bone", {"reddish_share": 0.1}),
        ("bone_yi_least", {"least_yellow": -1.0}),
        ("hue_of_rest", {"hue_off_sheet": 0.1}),
        ("light_on_rest", {"ground_gain": 0.2}),
        ("yellow_share_std", {"reading": SimpleNamespace(yellow_share_std=0.3)}),
        ("square_corners_of_one_colour", {"one_colour": OneColour(corners_yi=5.0, filled_yi=0.0)}),
        ("one_colour_fills_rectangle", {"one_colour": OneColour(corners_yi=0.0, filled_yi=2.0)}),
    ],
)
def test_each_figure_of_the_bone_fails_its_own_check(name: str, changed: dict[str, Any]) -> None:
    assert failed(verdict.bone_checks(bone())) == set()
    assert failed(verdict.bone_checks(bone(**changed))) == {name}


@pytest.mark.parametrize(
    ("source", "tub", "tag_slot", "expected"),
    [
        (TimeSource.EXIF, 12, True, set()),
        (TimeSource.EXIF, None, True, {"tub_tag_seen"}),
        (TimeSource.EXIF, None, False, set()),  # a chart without a slot shows no tag
        (TimeSource.FILE, 12, True, {"time_from_camera"}),
    ],
)
def test_a_photo_names_its_time_and_its_tub(
    source: TimeSource, tub: int | None, *, tag_slot: bool, expected: set[str]
) -> None:
    photo = cast("Photo", SimpleNamespace(time_source=source))
    rows = verdict.photo_checks(photo, tub, tag_slot=tag_slot)
    assert {row.name for row in rows if not row.passed} == expected
