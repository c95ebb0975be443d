"""The place of the most telling cause is outlined in the picture of what was found."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from PIL import Image

from greasecheck.measure.checks.verdict import refusal
from greasecheck.measure.reading import PhotoView, ReadSettings, view_photo
from greasecheck.measure.sheet.samples import sheet_to_pixels
from greasecheck.model import Verdict
from greasecheck.model.check_places import NOWHERE, PLACES, Place
from greasecheck.report.cause_mark import WARNING_COLOUR, cause_outline_px
from greasecheck.report.overlay import BAND_PX, WIDTH_PX, draw_overlay
from greasecheck.words.photos.places import PLACE_WORDS
from tests.synthetic.jar_scene import JarScene, photograph

if TYPE_CHECKING:
    from greasecheck.model import Box, FloatArray

SCENE = JarScene(transmittance=(0.4,) * 3, veil=0.2, bone_lab_rgb=(0.62, 0.5, 0.3), seed=2)


@pytest.fixture(scope="module")
def view(tmp_path_factory: pytest.TempPathFactory) -> PhotoView:
    path = tmp_path_factory.mktemp("cause") / "one.png"
    Image.fromarray(photograph(SCENE).pixels).save(path)
    return view_photo(path, ReadSettings())


def refused_by(view: PhotoView, *names: str) -> PhotoView:
    checks = tuple(refusal(name) for name in names)
    return replace(view, reading=replace(view.reading, checks=checks, verdict=Verdict.REFUSED))


def warned(view: PhotoView) -> FloatArray:
    """Return where the picture has the warning colour, (x, y) in pixels of the photo's part."""
    photo = np.asarray(draw_overlay(view))[BAND_PX:]
    rows, columns = np.nonzero((photo == WARNING_COLOUR).all(axis=2))
    return np.column_stack([columns, rows]).astype(float)


def corners_of(view: PhotoView, box: Box) -> FloatArray:
    """Return two corners of a box where the picture shows them: the lower left, the lower right."""
    assert view.photo is not None
    assert view.placement is not None
    low, right = box.y_mm + box.height_mm, box.x_mm + box.width_mm
    places = sheet_to_pixels(view.placement, np.array([[box.x_mm, low], [right, low]]))
    return np.asarray(places * WIDTH_PX / view.photo.pixels.shape[1])


def test_the_first_cause_is_outlined_where_it_lies_and_no_other(view: PhotoView) -> None:
    assert view.placement is not None
    sheet = view.placement.geometry
    assert sheet.rest is not None
    assert sheet.tag is not None
    for name, box in (
        ("jar_filled", sheet.jar_zone),
        ("hue_of_rest", sheet.rest.zone),
        ("tub_tag_seen", sheet.tag.slot),
    ):
        found = warned(refused_by(view, name, "dry_black_change"))
        for corner in corners_of(view, box):
            assert np.linalg.norm(found - corner, axis=1).min() < 8
        dry = corners_of(view, sheet.sight.dry_coarse)
        assert all(np.linalg.norm(found - corner, axis=1).min() > 20 for corner in dry)


@pytest.mark.parametrize("name", sorted(NOWHERE))
def test_what_has_no_place_marks_nothing(view: PhotoView, name: str) -> None:
    plain = draw_overlay(refused_by(view, "not known to this version"))
    marked = draw_overlay(refused_by(view, name))
    rows = slice(BAND_PX, BAND_PX + round(WIDTH_PX * 0.5))
    assert np.array_equal(np.asarray(plain)[rows], np.asarray(marked)[rows])


def test_each_place_of_the_chart_has_an_outline_and_a_name(view: PhotoView) -> None:
    assert set(PLACES.values()) == set(PLACE_WORDS) == set(Place)
    elsewhere = {Place.GLASS, Place.CONTRAST_LADDER, Place.DIP_LADDER}  # not of sheets of version 1
    for place in Place:
        outline = cause_outline_px(view, view.reading, place)
        assert (outline is None) == (place in elsewhere)
        assert outline is None or outline.shape == (4, 2)


def test_a_photo_in_which_nothing_was_found_is_not_marked(view: PhotoView) -> None:
    bare = replace(view, placement=None, colour=None, water=None, bone=None)
    assert len(warned(refused_by(bare, "jar_filled"))) == 0
    assert len(warned(replace(view, reading=replace(view.reading, checks=())))) == 0


def test_hidden_patches_and_the_paper_that_is_most_unlike_are_marked_alone(view: PhotoView) -> None:
    assert view.placement is not None
    assert view.colour is not None
    sheet = view.placement.geometry
    name, box = next(reversed(sheet.patches.items()))
    odd = tuple(0.3 if at == 5 else 0.0 for at in range(len(sheet.paper_windows)))
    misfit = replace(view.colour.misfit, windows=odd)
    colour = replace(view.colour, dropped=(name,), misfit=misfit)
    changed = replace(view, colour=colour, water=None)
    for check, meant in (("patches_left_out", box), ("light_misfit", sheet.paper_windows[5])):
        found = warned(refused_by(changed, check))
        assert len(found) > 0
        for corner in corners_of(view, meant):
            assert np.linalg.norm(found - corner, axis=1).min() < 60


def with_odd_paper(view: PhotoView, **changes: float) -> PhotoView:
    """Return a photo whose light is doubted, and unlike at the paper windows w0, w1 and so on."""
    assert view.placement is not None
    assert view.colour is not None
    count = len(view.placement.geometry.paper_windows)
    odd = tuple(changes.get(f"w{at}", 0.0) for at in range(count))
    colour = replace(view.colour, misfit=replace(view.colour.misfit, windows=odd))
    return refused_by(replace(view, colour=colour, water=None), "light_misfit")


def test_paper_that_is_unlike_in_several_places_is_outlined_around_all(view: PhotoView) -> None:
    assert view.placement is not None
    windows = view.placement.geometry.paper_windows
    found = warned(with_odd_paper(view, w0=-0.06, w19=-0.05, w4=0.02))
    for corner in (corners_of(view, windows[0])[0], corners_of(view, windows[19])[1]):
        assert np.linalg.norm(found - corner, axis=1).min() > 15
    low, left = found[:, 1].max(), found[:, 0].min()
    assert low > corners_of(view, windows[19])[0, 1]
    assert left < corners_of(view, windows[0])[0, 0]


def test_the_name_of_a_cause_does_not_cover_its_place(view: PhotoView) -> None:
    assert view.placement is not None
    found = warned(with_odd_paper(view, w0=0.3))
    window = corners_of(view, view.placement.geometry.paper_windows[0])
    assert np.linalg.norm(found - window.mean(axis=0), axis=1).min() > 10
