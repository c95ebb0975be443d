import json
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
import typer
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from greasecheck.cli.setup import camera
from greasecheck.errors import DataFileError, SheetError
from greasecheck.measure.sheet.lens import (
    distort,
    fit_lens_to_photo,
    lens_to_json,
    read_lens,
    undistort,
)
from greasecheck.measure.sheet.lens_estimate import _checked, estimate_lens
from greasecheck.model import Lens
from tests.synthetic.views import Setting, View, clutter, photo_of, render

LENS = Lens(
    matrix=np.array([[900.0, 0, 600], [0, 900, 440], [0, 0, 1]]),
    distortion=np.array([-0.12, 0.03, 0.001, -0.002, 0.0]),
    width_px=1200,
    height_px=900,
)
TURNED = tuple(
    Setting(
        size_px=(1200, 900),
        focal_px=950,
        tilt_deg=tilt,
        tilt_axis_deg=axis,
        roll_deg=roll,
        width_share=0.55,
        centre_share=centre,
        noise=1.5,
        distortion=(-0.06, 0.015, 0, 0, 0),
    )
    for tilt, axis, roll, centre in (
        (25, 0, 0, (0.45, 0.5)),
        (25, 90, 5, (0.55, 0.55)),
        (22, 200, -8, (0.5, 0.45)),
        (25, 280, 90, (0.5, 0.5)),
    )
)


@pytest.fixture(scope="module")
def views() -> list[View]:
    return [render(setting) for setting in TURNED]


def test_reads_what_it_writes(tmp_path: Path) -> None:
    path = tmp_path / "lens.json"
    path.write_text(lens_to_json(LENS))
    read = read_lens(path)
    assert np.array_equal(read.matrix, LENS.matrix)
    assert np.array_equal(read.distortion, LENS.distortion)
    assert (read.width_px, read.height_px) == (1200, 900)


@pytest.mark.parametrize(
    ("key", "value", "complaint"),
    [
        ("schema", 2, "schema 2"),
        ("kind", "scale", "it is a scale"),
        ("width_px", 0, "photo size"),
        ("height_px", 1.5, "photo size"),
        ("matrix_px", [[1, 2], [3, 4]], "3 x 3"),
        ("distortion", [0.1], "5 numbers"),
        ("distortion", [0, 0, 0, 0, float("nan")], "finite"),
        ("matrix_px", [[0, 0, 0], [0, 1, 0], [0, 0, 1]], "above 0"),
        ("matrix_px", "none", "not a lens file"),
    ],
)
def test_refuses_a_garbled_file(tmp_path: Path, key: str, value: object, complaint: str) -> None:
    path = tmp_path / "lens.json"
    path.write_text(json.dumps({**json.loads(lens_to_json(LENS)), key: value}))
    with pytest.raises(DataFileError, match=complaint):
        read_lens(path)


@pytest.mark.parametrize("text", ["", "[]", "{}", "\udcff"])
def test_refuses_what_is_no_lens_file(tmp_path: Path, text: str) -> None:
    path = tmp_path / "lens.json"
    path.write_text(text, errors="surrogateescape")
    with pytest.raises(DataFileError, match="not a lens file"):
        read_lens(path)


def test_refuses_a_missing_file(tmp_path: Path) -> None:
    with pytest.raises(DataFileError, match="cannot read"):
        read_lens(tmp_path / "none.json")


@settings(deadline=None, max_examples=30)
@given(x=st.floats(0, 1199), y=st.floats(0, 899))
def test_undistort_undoes_distort(x: float, y: float) -> None:
    seen = np.array([[x, y]])
    assert distort(undistort(seen, LENS), LENS) == pytest.approx(seen, abs=1e-3)


def test_lens_scales_with_the_photo() -> None:
    half = fit_lens_to_photo(LENS, 600, 450)
    ideal = np.array([[100.0, 80], [1100, 820]])
    smaller = distort((ideal + 0.5) / 2 - 0.5, half)
    assert (smaller + 0.5) * 2 - 0.5 == pytest.approx(distort(ideal, LENS), abs=1e-9)


def test_refuses_a_turned_photo() -> None:
    with pytest.raises(DataFileError, match="900 x 1200"):
        fit_lens_to_photo(LENS, 900, 1200)


def test_recovers_the_lens(views: list[View]) -> None:
    found = estimate_lens(view.photo for view in views)
    true = views[0].lens
    focal, true_focal = found.lens.matrix[0, 0], true.matrix[0, 0]
    assert focal == pytest.approx(true_focal, rel=3 * found.focal_std)
    x, y = np.meshgrid(np.linspace(100, 1100, 9), np.linspace(75, 825, 7))
    points = np.column_stack([x.ravel(), y.ravel()])
    # A shift of the axis can hide in the poses: compare the bending alone, to 1 px.
    apart = distort(points, found.lens) - distort(points, true)
    assert np.abs(apart - apart.mean(axis=0)).max() < 1.0
    assert found.rms_px < 0.2
    assert found.photos == len(views)
    assert found.corner_shift_px > 10


def test_needs_three_photos(views: list[View]) -> None:
    with pytest.raises(SheetError, match="2 photos are too few"):
        estimate_lens(view.photo for view in views[:2])


def test_needs_photos_of_one_size(views: list[View]) -> None:
    small = photo_of(np.asarray(cv2.resize(views[0].photo.pixels, (800, 600)), dtype=np.uint8))
    with pytest.raises(SheetError, match="800 x 600 and 1200 x 900"):
        estimate_lens([small, *(view.photo for view in views)])


def test_needs_the_sheet_turned() -> None:
    square = replace(TURNED[0], tilt_deg=0)
    alike = [render(replace(square, seed=seed)).photo for seed in range(3)]
    with pytest.raises(SheetError, match="too much alike"):
        estimate_lens(alike)


def test_needs_one_zoom(views: list[View]) -> None:
    zoomed = [render(replace(s, focal_px=1400, distortion=(0.05, 0, 0, 0, 0))) for s in TURNED[:2]]
    with pytest.raises(SheetError, match="do not fit one lens"):
        estimate_lens(view.photo for view in [*views[:2], *zoomed])


def test_needs_a_focal_length_well_known(views: list[View]) -> None:
    found = estimate_lens(view.photo for view in views)
    with pytest.raises(SheetError, match=r"focal length to 3\.0% only"):
        _checked(replace(found, focal_std=0.03))


def test_names_the_photo_without_a_sheet(views: list[View]) -> None:
    empty = photo_of(clutter(np.random.default_rng(2), (1200, 900)))
    named = replace(empty, path=Path("empty.jpg"))
    with pytest.raises(SheetError, match=r"empty\.jpg: no reference sheet"):
        estimate_lens([views[0].photo, named])


def run(*arguments: object) -> tuple[int, str]:
    app = typer.Typer()
    camera.register(app)
    result = CliRunner().invoke(app, ["camera", *(str(argument) for argument in arguments)])
    return result.exit_code, result.stdout


@pytest.fixture(scope="module")
def files(views: list[View], tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    folder = tmp_path_factory.mktemp("photos")
    paths = [folder / f"lens_{number}.png" for number in range(len(views))]
    for path, view in zip(paths, views, strict=True):
        cv2.imwrite(str(path), np.ascontiguousarray(view.photo.pixels[..., ::-1]))
    return paths


def test_command_writes_the_lens(files: list[Path], tmp_path: Path) -> None:
    out = tmp_path / "lens.json"
    status, output = run(*files, "--out", out)
    assert status == 0
    assert "focal length 9" in output
    assert read_lens(out).width_px == 1200


def test_command_answers_in_json(files: list[Path], tmp_path: Path) -> None:
    status, output = run(*files, "--out", tmp_path / "lens.json", "--json")
    assert status == 0
    answer = json.loads(output)
    assert answer["schema"] == 1
    assert answer["photos"] == len(files)
    assert answer["focal_px"] == pytest.approx(950, rel=0.01)
