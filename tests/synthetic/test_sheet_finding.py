"""The quick version of tests/benchmarks/sheet_finding.py."""

import numpy as np

from tests.benchmarks.sheet_finding import find_in_absence, find_in_views


def test_finds_the_sheet_in_random_views() -> None:
    finds = find_in_views(20)
    assert len(finds) == 20
    assert not any(find.tub_misread for find in finds)
    assert np.median([find.mean_error_mm for find in finds]) < 0.05
    # The worst is a hidden corner of a sheet at one pixel a mm.
    assert max(find.mean_error_mm for find in finds) < 0.5


def test_finds_none_where_there_is_none() -> None:
    assert find_in_absence(45) == []
