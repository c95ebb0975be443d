"""The quick version of tests/benchmarks/sheet_finding.py."""

import numpy as np

from tests.benchmarks.sheet_finding import find_in_absence, find_in_views


def test_finds_the_sheet_in_random_views() -> None:
    finds = find_in_views(20)
    assert finds.found == finds.views
    assert finds.tubs_wrong == 0
    assert np.median(finds.mean_error_mm) < 0.05
    assert finds.mean_error_mm.max() < 0.5  # a hidden corner of a sheet at one pixel a mm


def test_finds_none_where_there_is_none() -> None:
    assert find_in_absence(45) == []
