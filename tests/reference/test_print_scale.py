"""The printed sheet has true size: ISO 32000-1:2008, 8.3.2.3: the unit of a PDF is 1/72 inch."""

import base64
import re
import zlib
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from greasecheck.model import Tag
from greasecheck.print.pages import PAPERS, Paper
from greasecheck.print.raster import encode_png
from greasecheck.print.sheet import draw_sheet_png, sheet_pdf, tags_pdf
from greasecheck.reference import known_sheets
from greasecheck.reference.patches.values import nominal_values

MM = 72 / 25.4
NUMBER = r"(-?[\d.]+)"
TOLERANCE_MM = 0.001  # PDF coordinates are written to a thousandth of a point or better
SHEET = known_sheets()[0]


def page_contents(pdf: bytes) -> list[str]:
    """Drawing operators of each page; other streams (fonts) hold none."""
    streams = re.findall(rb"ASCII85Decode[^>]*>>\s*stream\r?\n(.*?)~>endstream", pdf, re.DOTALL)
    texts = [zlib.decompress(base64.a85decode(stream)).decode("latin-1") for stream in streams]
    return [text for text in texts if " re" in text]


def rectangles_mm(content: str) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    found = re.findall(rf"{NUMBER} {NUMBER} {NUMBER} {NUMBER} re", content)
    return np.array(found, dtype=float) / MM


@pytest.fixture(name="pdf", params=PAPERS, ids=lambda paper: paper.name, scope="module")
def fixture_pdf(request: pytest.FixtureRequest) -> tuple[Paper, bytes]:
    paper: Paper = request.param
    return paper, sheet_pdf(SHEET, nominal_values(SHEET), paper)


def test_page_is_the_paper(pdf: tuple[Paper, bytes]) -> None:
    paper, content = pdf
    box = re.search(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", content)
    assert box is not None
    assert float(box[1]) / MM == pytest.approx(paper.width_mm, abs=TOLERANCE_MM)
    assert float(box[2]) / MM == pytest.approx(paper.height_mm, abs=TOLERANCE_MM)


def test_viewers_are_asked_not_to_scale(pdf: tuple[Paper, bytes]) -> None:
    found = re.search(rb"/ViewerPreferences (\d+) 0 R", pdf[1])
    assert found is not None
    assert re.search(rb"\n%s 0 obj\s*<<\s*/PrintScaling /None\s*>>" % found[1], pdf[1])


def test_no_transform_scales_the_page(pdf: tuple[Paper, bytes]) -> None:
    (content,) = page_contents(pdf[1])
    transforms = re.findall(rf"{' '.join([NUMBER] * 6)} cm", content)
    assert set(transforms) <= {("1", "0", "0", "1", "0", "0")}


def test_ruler_measures_100_mm(pdf: tuple[Paper, bytes]) -> None:
    paper, content = pdf
    left, bottom, width, height = rectangles_mm(page_contents(content)[0]).T
    top = paper.height_mm - bottom - height
    ruler_top = (paper.height_mm - SHEET.height_mm) / 2 + SHEET.ruler_start_mm[1]
    ticks = np.sort((left + width / 2)[(np.abs(top - ruler_top) < 0.01) & (width < 0.5)])
    assert len(ticks) == 101
    assert ticks[-1] - ticks[0] == pytest.approx(100.0, abs=TOLERANCE_MM)
    assert np.diff(ticks) == pytest.approx(np.ones(100), abs=TOLERANCE_MM)


def test_sheet_is_centred_and_each_patch_has_its_place_and_size(pdf: tuple[Paper, bytes]) -> None:
    paper, content = pdf
    boxes = rectangles_mm(page_contents(content)[0])
    offset_x = (paper.width_mm - SHEET.width_mm) / 2
    offset_y = (paper.height_mm - SHEET.height_mm) / 2
    for box in SHEET.patches.values():
        bottom = paper.height_mm - offset_y - box.y_mm - box.height_mm
        expected = np.array([offset_x + box.x_mm, bottom, box.width_mm, box.height_mm])
        assert np.abs(boxes - expected).max(axis=1).min() < TOLERANCE_MM


def test_tag_markers_are_24_mm() -> None:
    pages = page_contents(tags_pdf(SHEET, [Tag(number=tub) for tub in range(1, 41)], PAPERS[0]))
    cells = np.concatenate([rectangles_mm(page) for page in pages])
    modules = cells[np.abs(cells[:, 2] - 24.0 / 6) < 0.01]
    assert len(pages) == 2
    assert modules[:, 2:] == pytest.approx(np.full((len(modules), 2), 4.0), abs=TOLERANCE_MM)
    assert len(modules) > 40 * 20  # the border alone inks 20 of a marker's 36 cells


@pytest.mark.parametrize("dpi", [150, 301])
def test_ruler_of_the_png_measures_100_mm_at_its_stated_resolution(dpi: float) -> None:
    png = encode_png(draw_sheet_png(SHEET, nominal_values(SHEET), dpi), dpi)
    with Image.open(BytesIO(png)) as image:
        per_mm = image.info["dpi"][0] / 25.4
        row = round((SHEET.ruler_start_mm[1] + 1.0) * per_mm)
        dark = 255.0 - np.asarray(image)[row, :, 0]
    edge = round((SHEET.ruler_start_mm[0] - 0.5) * per_mm)
    ends = []
    for start_mm in (0.0, SHEET.ruler_length_mm):
        span = slice(edge + round(start_mm * per_mm), edge + round((start_mm + 1.0) * per_mm))
        weights = dark[span]
        ends.append((weights * np.arange(span.start, span.stop)).sum() / weights.sum() / per_mm)
    assert ends[1] - ends[0] == pytest.approx(100.0, abs=0.5 * 25.4 / dpi)
