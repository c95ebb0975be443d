"""A chart of the user's own: its geometry and its values are files."""

from pathlib import Path

import numpy as np
import pytest

from greasecheck.errors import DataFileError
from greasecheck.model import SheetGeometry
from greasecheck.reference import known_sheets, read_geometry
from greasecheck.reference.patches.values import (
    nominal_values,
    read_patch_files,
    read_patch_values,
    values_for,
)

SHEET = known_sheets()[0]
ROWS = "".join(f"P{i} = [{20 * i}.0, 40.0, 15.0, 15.0]\n" for i in range(14))
CHART = f"""
width = 300.0
height = 100.0
dictionary = "DICT_4X4_50"
markers = [
  {{ id = 0, box = [0, 0, 20, 20], corner = true }},
  {{ id = 1, box = [280, 0, 20, 20], corner = true }},
  {{ id = 3, box = [280, 80, 20, 20], corner = true }},
  {{ id = 2, box = [0, 80, 20, 20], corner = true }},
]
[paper]
windows = [[30, 2, 8, 8], [60, 2, 8, 8]]
[patches]
{ROWS}"""
LAB = "id,square,Lab_l,Lab_a,Lab_b\n" + "".join(
    f"{i},P{i},{20 + 5 * i},{i - 5},{7 - i}\n" for i in range(14)
)


@pytest.fixture(name="chart")
def own_chart(tmp_path: Path) -> SheetGeometry:
    path = tmp_path / "chart.toml"
    path.write_text(CHART, encoding="utf-8")
    return read_geometry(path)


def csv_file(folder: Path, text: str) -> Path:
    path = folder / "values.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_chart_needs_only_markers_paper_and_patches(chart: SheetGeometry) -> None:
    parts = chart.tag, chart.jar, chart.bars, chart.ruler, chart.rest, chart.patch_values
    assert parts == (None,) * 6
    assert (chart.version, len(chart.patches), len(chart.markers)) == (0, 14, 4)


@pytest.mark.parametrize(
    "part",
    ["tag_slot", "tag_marker", "jar_zone", "fill_line_y_mm", "sight",
     "ruler_start_mm", "ruler_length_mm", "rest_zone"],
)  # fmt: skip
def test_a_part_that_is_not_there_is_named(chart: SheetGeometry, part: str) -> None:
    with pytest.raises(DataFileError, match="has no part"):
        getattr(chart, part)


def test_an_unknown_marker_dictionary_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "chart.toml"
    path.write_text(CHART.replace("DICT_4X4_50", "DICT_9X9"), encoding="utf-8")
    with pytest.raises(DataFileError, match="marker dictionary 'DICT_9X9'"):
        read_geometry(path)


def test_lab_as_csv_is_d50_unless_it_says_otherwise(tmp_path: Path, chart: SheetGeometry) -> None:
    values = read_patch_values(csv_file(tmp_path, LAB), chart)
    assert values.names == tuple(chart.patches)
    assert values.measured
    # L* = 85 (P13), by hand: Y = ((85 + 16) / 116)^3; adapting the white leaves Y nearly as it is
    assert values.of("P13")[1] == pytest.approx(100 * (101 / 116) ** 3, abs=0.6)
    d65 = read_patch_values(csv_file(tmp_path, "# white point: D65/2\n" + LAB), chart)
    assert d65.of("P13")[1] == pytest.approx(100 * (101 / 116) ** 3, abs=1e-9)
    assert np.abs(d65.xyz - values.xyz).max() > 0.1


def test_semicolons_and_named_columns(tmp_path: Path, chart: SheetGeometry) -> None:
    plain = read_patch_values(csv_file(tmp_path, LAB), chart)
    other = LAB.replace("square,Lab_l,Lab_a,Lab_b", "patch,L*,a*,b*").replace(",", ";")
    assert np.array_equal(read_patch_values(csv_file(tmp_path, other), chart).xyz, plain.xyz)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("", "empty"),
        ("patch,Lab_l,Lab_a,Lab_b\n", "holds no patches"),
        (f"patch,Lab_l,Lab_a,Lab_b\nA,{'5' * 200_000},1,2\n", "line 2: it is not CSV"),
        ("patch,L*,Lab_l,b*\nP1,1,2,3\n", "twice"),
        ("Lab_l,Lab_a,Lab_b\n1,2,3\n", "no column names the patches"),
        ("patch,Lab_l,Lab_a,Lab_b\nP1,50,1\n", "line 2: 3 values stand where 4"),
        ("patch,Lab_l,Lab_a,Lab_b\nP1,50,1,x\n", "LAB_B is 'x', not a number"),
        (LAB.replace("P9", "Q9").replace("P8", "Q8").replace("P7", "Q7"), "lacks the patches P7"),
    ],
)
def test_bad_csv_is_refused(tmp_path: Path, chart: SheetGeometry, text: str, problem: str) -> None:
    with pytest.raises(DataFileError, match=problem):
        read_patch_values(csv_file(tmp_path, text), chart)


def test_some_patches_of_an_own_chart_may_be_unknown(tmp_path: Path, chart: SheetGeometry) -> None:
    values = read_patch_values(csv_file(tmp_path, LAB.replace("P9", "Q9")), chart)
    assert values.names == tuple(name for name in chart.patches if name != "P9")


def test_values_go_to_the_sheet_they_belong_to(tmp_path: Path, chart: SheetGeometry) -> None:
    given = read_patch_files([csv_file(tmp_path, LAB)], (SHEET, chart))
    assert values_for(chart, given).measured
    assert values_for(SHEET, given) == nominal_values(SHEET)


def test_values_of_no_sheet_are_refused(tmp_path: Path, chart: SheetGeometry) -> None:
    with pytest.raises(DataFileError, match="lacks the patches"):
        read_patch_files([csv_file(tmp_path, LAB)], (SHEET,))
    text = "# sheet version: 7\n" + LAB
    with pytest.raises(DataFileError, match="belongs to sheet version 7"):
        read_patch_files([csv_file(tmp_path, text)], (SHEET, chart))
    with pytest.raises(DataFileError, match="SHEET_VERSION is 'x'"):
        read_patch_files([csv_file(tmp_path, "# sheet version: x\n" + LAB)], (chart,))


def test_a_chart_without_any_values_says_so(chart: SheetGeometry) -> None:
    with pytest.raises(DataFileError, match="not known"):
        values_for(chart)
