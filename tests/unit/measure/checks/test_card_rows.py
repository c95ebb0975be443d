"""A figure of bone beside a card that is off fails the check named for it, and no other."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any, cast

import numpy as np
import pytest

from greasecheck.measure.checks import card
from greasecheck.model import Placement, Tag, TagOwner, TimeSource
from greasecheck.reference import known_cards

if TYPE_CHECKING:
    from collections.abc import Iterable

    from greasecheck.measure.card.look import CardView
    from greasecheck.model import Check, Drawn, FloatArray, Photo

PLACED = Placement(
    homography=np.eye(3),
    lens=None,
    geometry=next(one for one in known_cards() if one.tag is not None),
    marker_ids=(),
    tag=Tag(owner=TagOwner.SKULL, number=7),
    pixels_per_mm=5.0,
    tilt_deg=2.0,
    residual_px=0.1,
    tag_scale=1.0,
)
TURN = np.linspace(0, 2 * np.pi, 200)
BONE_MM = np.column_stack([200 + 80 * np.cos(TURN), 40 + 50 * np.sin(TURN)])
STRIP_MM = np.array([[200.0, 0.0], [300.0, 0.0], [300.0, 40.0], [200.0, 40.0]])


def failed(rows: Iterable[Check]) -> set[str]:
    return {row.name for row in rows if not row.passed}


def seen(outline_mm: FloatArray = BONE_MM, *, share_std: float = 0.03, **changed: Any) -> CardView:  # noqa: ANN401 - figures of any kind
    known = {
        "reading": SimpleNamespace(
            yellow_share_std=share_std, pieces=(SimpleNamespace(outline_px=outline_mm),)
        ),
        "reddish_share": 0.0,
        "brown_share": 0.0,
        "likely_skulls": 1,
        "light_std": 1.0,
        "paper_std": 0.2,
        "least_yellow": 10.0,
        "shadow_level": 0.5,
        "shade_told": False,
        "clipped_share": 0.0,
        "dark_share": 0.1,
        "runs_at_rim": 4,
        "hidden_by_cloth": 0.29,
    }
    return cast("CardView", SimpleNamespace(**{**known, **changed}))


def of_bone(view: CardView, drawn: tuple[object, ...] = ()) -> set[str]:
    return failed(card.bone_checks(view, PLACED, cast("tuple[Drawn, ...]", drawn)))


DRAWN_SETTLES = {
    "reddish_share_of_bone": seen(reddish_share=0.1),
    "dark_share_of_bone": seen(dark_share=0.4),
    "brown_share": seen(brown_share=0.05),
    "hidden_by_cloth": seen(hidden_by_cloth=0.31),
    "bright_runs_at_rim": seen(runs_at_rim=5),
    "pieces_like_skulls": seen(likely_skulls=2),
}
DRAWN_LEAVES = {
    "clipped_share_of_bone": seen(clipped_share=0.2),
    "bone_light_yi_std": seen(light_std=4.0),
    "light_in_shadow": seen(shadow_level=0.1),
    "bone_yi_least": seen(least_yellow=-1.0),
    "yellow_share_std": seen(share_std=0.1),
}


def test_a_sound_look_fails_nothing() -> None:
    assert of_bone(seen()) == set()


@pytest.mark.parametrize(("name", "view"), (DRAWN_SETTLES | DRAWN_LEAVES).items())
def test_each_figure_fails_its_own_check(name: str, view: CardView) -> None:
    assert of_bone(view) == {name}


@pytest.mark.parametrize(("name", "view"), (DRAWN_SETTLES | DRAWN_LEAVES).items())
def test_a_drawn_outline_settles_what_is_bone_not_its_light(name: str, view: CardView) -> None:
    assert of_bone(view, (object(),)) == ({name} if name in DRAWN_LEAVES else set())


def test_a_strip_of_wood_has_corners_and_fills_its_rectangle() -> None:
    assert of_bone(seen(STRIP_MM)) == {"square_corners_of_bone", "bone_piece_fills_rectangle"}


def test_shade_that_the_hue_tells_is_neither_hard_light_nor_dark_bone() -> None:
    assert of_bone(seen(shadow_level=0.1, dark_share=0.4, shade_told=True)) == set()


@pytest.mark.parametrize(("paper_share", "cause"), [(0.4, ""), (0.6, "paper")])
def test_the_paper_is_blamed_for_more_than_half_of_the_variance(
    paper_share: float, cause: str
) -> None:
    view = seen(light_std=4.0, paper_std=4.0 * paper_share**0.5)
    rows = card.bone_checks(view, PLACED, ())
    assert [(row.name, row.note) for row in rows if not row.passed] == [
        ("bone_light_yi_std", cause)
    ]


@pytest.mark.parametrize(
    ("name", "changed"),
    [
        ("card_px_per_mm", {"pixels_per_mm": 1.0}),
        ("card_tilt_deg", {"tilt_deg": 55.0}),
        ("tag_to_sheet_scale_error", {"tag_scale": 0.96}),
        ("tag_to_sheet_scale_error", {"tag_scale": 1.04}),
    ],
)
def test_each_figure_of_the_place_fails_its_own_check(name: str, changed: dict[str, Any]) -> None:
    assert failed(card.place_checks(PLACED)) == set()
    assert failed(card.place_checks(replace(PLACED, **changed))) == {name}
    assert failed(card.place_checks(replace(PLACED, tag_scale=None))) == set()


def of_photo(source: TimeSource, placement: Placement, tub: int | None = None) -> set[str]:
    photo = cast("Photo", SimpleNamespace(time_source=source))
    return failed(card.photo_checks(photo, placement, tub))


def test_a_card_s_photo_needs_a_time_and_a_tag_of_skull_or_tub() -> None:
    bare = replace(PLACED, tag=None)
    assert of_photo(TimeSource.EXIF, PLACED) == set()
    assert of_photo(TimeSource.FILE, PLACED) == {"time_from_camera"}
    assert of_photo(TimeSource.EXIF, bare) == {"tub_tag_seen"}
    assert of_photo(TimeSource.EXIF, bare, tub=12) == set()
    slotless = replace(bare, geometry=replace(bare.geometry, tag=None))
    assert of_photo(TimeSource.EXIF, slotless) == set()
