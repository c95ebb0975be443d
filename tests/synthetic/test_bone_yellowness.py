"""Yellowness of bone over lamps and cameras: the required figures, and the stated errors."""

import itertools

import numpy as np
import pytest

from tests.benchmarks import bone_yellowness as benchmark
from tests.synthetic.spectral_simulation import CAMERAS, LAMPS

LIMIT_RMSE, LIMIT_REPEATABILITY = 2.5, 1.0  # required of readings with measured patch values


@pytest.fixture(scope="module")
def rows() -> list[benchmark.Accuracy]:
    return [benchmark.accuracy(camera, lamp) for camera, lamp in itertools.product(CAMERAS, LAMPS)]


def test_covers_at_least_five_lamps_and_three_cameras() -> None:
    assert len(LAMPS) >= 5
    assert len(CAMERAS) >= 3


def test_error_with_measured_values_keeps_the_limit(rows: list[benchmark.Accuracy]) -> None:
    assert max(row.measured for row in rows) <= LIMIT_RMSE


def test_the_truth_lies_within_two_stated_errors(rows: list[benchmark.Accuracy]) -> None:
    assert np.mean([row.within_two_std for row in rows]) >= 0.9


def test_the_stated_error_is_neither_too_small_nor_too_large(
    rows: list[benchmark.Accuracy],
) -> None:
    in_stds = np.concatenate([row.in_stds for row in rows])
    assert 0.75 < np.sqrt(np.mean(in_stds**2)) < 1.25


def test_the_card_helps_and_measuring_it_helps_more(rows: list[benchmark.Accuracy]) -> None:
    measured, nominal, bare = (
        np.sqrt(np.mean([getattr(row, name) ** 2 for row in rows]))
        for name in ("measured", "nominal", "auto_balance")
    )
    assert measured < nominal < bare


@pytest.mark.parametrize(("camera", "lamp"), [(CAMERAS[0], "A"), (CAMERAS[2], "LED-B3")])
def test_one_bone_under_one_lamp_reads_alike(camera: str, lamp: str) -> None:
    assert benchmark.repeatability(camera, lamp).std <= LIMIT_REPEATABILITY


def test_prints_its_tables(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(benchmark, "LAMPS", ("D65",))
    monkeypatch.setattr("sys.argv", ["bone_yellowness", "--quick"])
    benchmark.main()
    printed = capsys.readouterr().out
    assert "no card" in printed
    assert "Repeatability" in printed
