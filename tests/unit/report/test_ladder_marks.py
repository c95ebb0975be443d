from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from greasecheck.measure.checks.verdict import refusal
from greasecheck.measure.reading import PhotoView, ReadSettings, view_photo
from greasecheck.model import Verdict
from greasecheck.report.cause_mark import WARNING_COLOUR
from greasecheck.report.ladder_marks import WATER_COLOUR
from greasecheck.report.overlay import BAND_PX, VERDICTS, WIDTH_PX, draw_overlay
from tests.synthetic.ladder_light.compose import Shooting
from tests.synthetic.ladder_light.photos import named, write_photo

AT = datetime(2026, 3, 4, 18, 5, tzinfo=UTC)
PHOTO = next(photo for photo in named("single") if len(photo.plan.ladders) == 2)


@pytest.fixture(scope="module")
def view(tmp_path_factory: pytest.TempPathFactory) -> PhotoView:
    path = tmp_path_factory.mktemp("ladders") / "two.jpg"
    return view_photo(write_photo(Path(path), PHOTO, Shooting(), at=AT), ReadSettings())


def test_each_waterline_is_drawn_where_it_was_found(view: PhotoView) -> None:
    assert view.photo is not None
    page = np.asarray(draw_overlay(view), dtype=int)
    scale = WIDTH_PX / view.photo.pixels.shape[1]
    assert len(view.ladders) == 2
    for ladder in view.ladders:
        assert ladder.waterline_px is not None
        x, y = (ladder.waterline_px.mean(axis=0) * scale).round().astype(int)
        around = page[66 + y - 3 : 66 + y + 4, x - 3 : x + 4].reshape(-1, 3)
        assert np.abs(around - WATER_COLOUR).max(axis=1).min() == 0


def test_the_band_has_the_colour_of_the_worst(view: PhotoView) -> None:
    worst = max((one.verdict for one in view.readings), key=list(Verdict).index)
    page = np.asarray(draw_overlay(view))
    assert tuple(page[2, 700]) == VERDICTS[worst][0]


def test_the_ladder_that_is_refused_is_outlined_alone(view: PhotoView) -> None:
    assert view.photo is not None
    good = replace(view.reading, checks=(), verdict=Verdict.GOOD)
    lost = (refusal("waterline_seen"),)
    refused = tuple(replace(one, checks=lost, verdict=Verdict.REFUSED) for one in view.others)
    page = np.asarray(draw_overlay(replace(view, reading=good, others=refused)))[BAND_PX:]
    rows, columns = np.nonzero((page == WARNING_COLOUR).all(axis=2))
    found = np.column_stack([columns, rows])
    scale = WIDTH_PX / view.photo.pixels.shape[1]
    near = [
        np.linalg.norm(found - ladder.outline_px[2] * scale, axis=1).min()
        for ladder in view.ladders
    ]
    assert near[0] > 20
    assert near[1] < 8
