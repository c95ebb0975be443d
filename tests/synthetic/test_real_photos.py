"""Real photographs of a chart with published values, where their folder is at hand."""

from functools import cache
from pathlib import Path

import pytest
from typer.testing import CliRunner

from greasecheck.cli.app import app
from tests.benchmarks.real_photos import (
    VARIABLE,
    Figures,
    figures_of,
    left_out_patches,
    photo_folder,
)

FOLDER = photo_folder() or Path()
pytestmark = pytest.mark.skipif(
    photo_folder() is None, reason=f"{VARIABLE} names no folder of real photographs"
)


@cache
def not_chosen_on() -> Figures:
    return figures_of([one for one in left_out_patches(FOLDER) if not one.chosen_on])


def test_colours_of_a_real_phone_hold_for_patches_left_out() -> None:
    found = not_chosen_on()
    assert found.delta_e00_median < 2.8
    assert found.delta_e00_95 < 8.0


def test_yellowness_of_a_real_phone_holds() -> None:
    found = not_chosen_on()
    assert found.greys_yi < 2.2
    assert found.skin_yi < 5.0
    assert found.within_two_std >= 0.9


def test_the_stated_colour_error_is_that_of_left_out_patches() -> None:
    found = not_chosen_on()
    assert found.stated_delta_e00 == pytest.approx(found.mean_delta_e00, rel=0.1)


def test_a_phone_in_the_hand_is_seen_to_map_tones_locally() -> None:
    photos = [str(photo) for photo in sorted(FOLDER.glob("*.jpg"))[2:5]]
    files = "--sheet", FOLDER / "chart_geometry.toml", "--patches", FOLDER / "reference_values.csv"
    found = CliRunner().invoke(app, ["camera-check", "--json", *map(str, files), *photos])
    assert found.exit_code == 0
    assert '"maps_tones_locally": true' in found.stdout


def test_the_chart_is_read_by_its_files_alone() -> None:
    photo = min(FOLDER.glob("*.jpg"))
    files = "--sheet", FOLDER / "chart_geometry.toml", "--patches", FOLDER / "reference_values.csv"
    found = CliRunner().invoke(app, ["read", "--no-log", "--json", *map(str, files), str(photo)])
    assert found.exit_code == 0
    assert '"absolute": true' in found.stdout
