import json
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import typer
from typer.testing import CliRunner, Result

from greasecheck.cli.setup import watch
from greasecheck.garage.camera.pictures import newest_of
from tests.synthetic.ladder_light.compose import Shooting
from tests.synthetic.ladder_light.photos import named, write_photo

AT = datetime(2026, 3, 4, 18, 5, tzinfo=UTC)
PHOTO = min(
    (photo for photo in named("single") if len(photo.plan.ladders) == 1),
    key=lambda photo: abs(np.log(photo.hazes_per_m[0] / 20)),
)


def run(*arguments: object) -> Result:
    app = typer.Typer()
    watch.register(app)
    return CliRunner().invoke(app, [*map(str, arguments)])


def test_pictures_in_a_folder_are_rounds(tmp_path: Path) -> None:
    (tmp_path / "camera").mkdir()
    write_photo(tmp_path / "camera" / "one.jpg", PHOTO, Shooting(), at=AT)
    book = tmp_path / "season.logbook"
    result = run(tmp_path / "camera", "--rounds", 1, "--logbook", book, "--json")
    assert result.exit_code == 0, result.output
    (done,) = json.loads(result.stdout)["rounds"]
    assert [one["outcome"] for one in done["logged"]] == ["logged"]
    assert datetime.fromisoformat(done["at"]) == AT
    picture = newest_of(tmp_path / "rounds", 12)
    assert picture is not None
    assert picture.at == AT
    assert (tmp_path / "camera" / "one.jpg").exists()


def test_why_a_picture_is_not_logged_is_said(tmp_path: Path) -> None:
    (tmp_path / "camera").mkdir()
    ahead = datetime(2090, 1, 1, tzinfo=UTC)
    write_photo(tmp_path / "camera" / "one.jpg", PHOTO, Shooting(), at=ahead)
    result = run(tmp_path / "camera", "--rounds", 1, "--logbook", tmp_path / "season.logbook")
    assert "tubs read: none" in result.stdout
    assert "lies in the future" in result.stdout


@pytest.mark.parametrize("arguments", [("0", "--json"), ("0", "--rounds", 0)])
def test_what_could_never_answer_is_wrong_usage(arguments: tuple[object, ...]) -> None:
    assert run(*arguments).exit_code == 2
