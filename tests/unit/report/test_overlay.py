from dataclasses import replace
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from greasecheck.measure.checks.verdict import refusal
from greasecheck.measure.reading import PhotoView, ReadSettings, view_photo
from greasecheck.model import Bound, Verdict, WaterReading
from greasecheck.report.overlay import VERDICTS, draw_overlay, save_overlay, water_words
from tests.synthetic.jar_scene import JarScene, photograph

SCENE = JarScene(transmittance=(0.4,) * 3, veil=0.2, bone_lab_rgb=(0.62, 0.5, 0.3), seed=2)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("overlay")


@cache
def drawn_view(folder: Path) -> PhotoView:
    path = folder / "one.png"
    Image.fromarray(photograph(SCENE).pixels).save(path)
    return view_photo(path, ReadSettings())


def test_verdict_is_the_colour_of_the_band(folder: Path) -> None:
    view = drawn_view(folder)
    page = np.asarray(draw_overlay(view))
    assert tuple(page[2, 700]) == VERDICTS[view.reading.verdict][0]
    assert page.shape[1] == 1400


def test_photo_is_marked_where_things_were_found(folder: Path) -> None:
    view = drawn_view(folder)
    assert view.water is not None
    assert view.bone is not None
    bare = np.asarray(draw_overlay(PhotoView(reading=view.reading, photo=view.photo)), dtype=int)
    marked = np.asarray(draw_overlay(view), dtype=int)
    changed = np.abs(marked - bare).max(axis=2) > 40
    assert 0.005 < changed.mean() < 0.2


def test_sixteen_bits_are_drawn_like_eight(folder: Path) -> None:
    view = drawn_view(folder)
    deep = folder / "deep.png"
    cv2.imwrite(str(deep), photograph(SCENE).pixels[..., ::-1].astype(np.uint16) * 257)
    page = np.asarray(draw_overlay(view_photo(deep, ReadSettings())), dtype=int)
    assert np.abs(page[100:600] - np.asarray(draw_overlay(view), dtype=int)[100:600]).mean() < 2


def test_refused_photo_gets_a_page_with_the_reason(folder: Path) -> None:
    path = save_overlay(view_photo(folder / "missing.jpg", ReadSettings()), folder / "out")
    page = np.asarray(Image.open(path), dtype=int)
    assert path.name == "missing.jpg.overlay.jpg"
    assert np.abs(page[2, 700] - (140, 32, 40)).max() < 12
    assert page[-40:].max() > 180


@pytest.mark.parametrize(
    ("bound", "words"),
    [
        (None, "water 12.3 ± 0.4 per m"),
        (Bound.ABOVE, "water above 12 per m"),
        (Bound.BELOW, "water below 12.3 per m"),
    ],
)
def test_water_in_words(bound: Bound | None, words: str) -> None:
    reading = WaterReading(
        attenuation_rgb_per_m=(None, None, None),
        main_per_m=12.34,
        std_per_m=0.4,
        bound=bound,
        forward_scatter=None,
        tint_yi=0.0,
        path_mm=60.0,
        dilution=1.0,
        turbidity=None,
        turbidity_std=None,
        turbidity_unit="FNU",
    )
    assert water_words(reading) == words


def test_of_a_refused_photo_the_most_telling_cause_stands_alone(folder: Path) -> None:
    view = drawn_view(folder)
    plain = draw_overlay(replace(view, reading=replace(view.reading, checks=())))
    heights = {}
    for verdict in (Verdict.REFUSED, Verdict.DOUBTFUL):
        checks = (refusal("waterline_seen"), refusal("stripes_in_picture"))
        reading = replace(view.reading, checks=checks, verdict=verdict)
        heights[verdict] = draw_overlay(replace(view, reading=reading)).height - plain.height
    assert 0 < heights[Verdict.REFUSED] < heights[Verdict.DOUBTFUL]
