import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import typer
from typer.testing import CliRunner, Result

from greasecheck.cli.setup import watch
from greasecheck.errors import PhotoError
from greasecheck.garage.camera.pictures import newest_of
from greasecheck.garage.camera.rounds import Round, RoundSettings
from greasecheck.logbook.readings import watch as folder_watch
from greasecheck.logbook.readings.photos import Logged, Outcome
from greasecheck.logbook.records import Tub
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import enter_tub, list_tubs
from greasecheck.model.camera_notices import Notice, NoticeKind
from greasecheck.words.photos.camera import notice_words
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


def test_what_others_enter_before_the_first_picture_is_kept_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    photo, path = tmp_path / "one.jpg", tmp_path / "season.logbook"
    write_photo(photo, PHOTO, Shooting(), at=AT)

    def arriving(_: Path) -> Iterator[tuple[Path, ...]]:
        with Logbook(path) as other:
            enter_tub(other, Tub(number=13))
        yield (photo,)

    monkeypatch.setattr(folder_watch, "watch_folder", arriving)
    (tmp_path / "camera").mkdir()
    result = run(tmp_path / "camera", "--rounds", 1, "--logbook", path)
    assert result.exit_code == 0, result.output
    with Logbook(path) as book:
        assert book.rows("SELECT tub FROM readings") == [(12,)]
        assert [tub.number for tub in list_tubs(book)] == [12, 13]


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


def test_what_is_no_camera_and_no_folder_is_refused(tmp_path: Path) -> None:
    book, photo = tmp_path / "season.logbook", tmp_path / "one.jpg"
    photo.write_bytes(b"a picture")
    for source, problem in ((photo, "is a file"), (tmp_path / "gone", "there is no camera")):
        with pytest.raises(PhotoError, match=problem):
            watch._require_source(str(source))
        assert run(source, "--rounds", 1, "--logbook", book).exit_code == 1
    assert not book.exists()


@pytest.mark.parametrize("source", ["0", "rtsp://camera.local/stream"])
def test_a_camera_that_is_away_may_come_back(source: str) -> None:
    watch._require_source(source)


def test_pictures_of_a_folder_are_kept_nowhere_else(tmp_path: Path) -> None:
    assert run(tmp_path, "--photos", tmp_path / "kept").exit_code == 2
    assert run(tmp_path, "--crop").exit_code == 2
    (tmp_path / "file").write_text("no folder")
    assert run("0", "--photos", tmp_path / "file").exit_code == 2


def test_options_reach_the_rounds_and_what_they_give_is_printed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    given: list[tuple[RoundSettings, float]] = []
    done = Round(
        at=AT,
        picture=None,
        logged=(
            Logged(path=tmp_path, outcome=Outcome.LOGGED, tub=12),
            Logged(path=tmp_path, outcome=Outcome.REFUSED, tub=14, problem="a wave", hint="wait"),
        ),
        notices=(Notice(kind=NoticeKind.LEVEL_FALLS, tub=12, amount_mm=9.6),),
    )

    def taken(_: Logbook, settings: RoundSettings, pause_s: float) -> Iterator[Round]:
        given.append((settings, pause_s))
        yield done

    monkeypatch.setattr(watch, "_taken", taken)
    book = ("--logbook", tmp_path / "season.logbook")
    usual = run("0", *book)
    kept = tmp_path / "kept"
    run("0", *book, "--every", "20min", "--keep", "5d", "--photos", kept, "--crop")
    found = [(one.folder, one.newest, one.keep, one.crop, pause_s) for one, pause_s in given]
    beside = tmp_path / "rounds"
    assert found == [
        (beside, beside, timedelta(days=30), False, 3600.0),
        (kept, beside, timedelta(days=5), True, 1200.0),
    ]
    first, *rest = usual.stdout.splitlines()
    assert first.endswith("tubs read: 12")
    assert [line.strip() for line in rest] == [
        "tub 14: not logged: a wave; wait",
        notice_words(done.notices[0]),
    ]


@pytest.mark.parametrize("options", [("--photos", "kept"), ("--crop",)])
def test_each_option_of_a_camera_alone_is_refused_for_a_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, options: tuple[str, ...]
) -> None:
    monkeypatch.setattr(watch, "_arriving", lambda *_: iter(()))
    result = run(tmp_path, *options, "--logbook", tmp_path / "season.logbook")
    assert result.exit_code == 2
    assert "for a camera" in result.output
