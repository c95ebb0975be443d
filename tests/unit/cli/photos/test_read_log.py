"""Reading photos into the logbook, run as a user would."""

import json
import os
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from shutil import copy
from typing import Any

import pytest
from PIL import Image

from greasecheck.logbook.store.book import Logbook
from tests.synthetic.jar_scene import JarScene, photograph
from tests.unit.cli.photos.test_read import MURKY, run

SAVED = datetime(2026, 3, 4, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def photos(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("season")
    for name, scene in (("clear.png", JarScene(seed=4)), ("murky.png", MURKY)):
        Image.fromarray(photograph(scene).pixels).save(folder / name)
    return folder


def logged(logbook: Path, *arguments: object) -> Any:  # noqa: ANN401 - JSON
    result = run(*arguments, "--logbook", logbook, "--json")
    body = json.loads(result.stdout)
    photos = body.get("photos", ()) if arguments[0] == "read" else ()
    refused = {photo["outcome"] for photo in photos} == {"refused"}
    assert result.exit_code == int(refused), result.stderr
    return body


def count(logbook: Path, table: str) -> int:
    with Logbook(logbook) as book:
        ((number,),) = book.rows(f"SELECT count(*) FROM {table}")
        return int(number)


def test_reference_in_force_is_used_and_photos_logged_once(photos: Path, tmp_path: Path) -> None:
    logbook = tmp_path / "season.logbook"
    logged(logbook, "clear", photos / "clear.png", "--tap-water")
    first = logged(logbook, "read", photos / "murky.png")
    (reading,) = first["readings"]
    failed = {check["name"] for check in reading["checks"] if not check["passed"]}
    assert failed == {"time_from_camera"}
    (photo,) = first["photos"]
    assert (photo["outcome"], photo["tub"], photo["new_tub"]) == ("logged", 12, True)
    again = logged(logbook, "read", photos / "murky.png")
    assert again["readings"] == []
    assert again["photos"][0]["outcome"] == "known"
    assert count(logbook, "readings") == 1
    renewed = logged(logbook, "read", photos / "murky.png", "--again")
    assert renewed["photos"][0]["outcome"] == "renewed"
    assert count(logbook, "readings") == 1


def test_refused_photo_is_an_attempt_not_a_reading(photos: Path, tmp_path: Path) -> None:
    logbook, wall = tmp_path / "season.logbook", tmp_path / "wall.png"
    Image.new("RGB", (500, 400), (90, 90, 90)).save(wall)
    body = logged(logbook, "read", wall)
    assert body["photos"][0]["outcome"] == "refused"
    assert count(logbook, "readings") == 0
    assert count(logbook, "attempts") == 1
    assert photos.exists()


def test_a_folder_does_not_tell_old_refusals_again(tmp_path: Path) -> None:
    folder, logbook = tmp_path / "photos", tmp_path / "season.logbook"
    folder.mkdir()
    Image.new("RGB", (500, 400), (90, 90, 90)).save(folder / "wall.png")
    (folder / "broken.jpg").write_bytes(b"no picture at all")
    first = run("read", folder, "--logbook", logbook)
    assert "wall.png: " in first.stdout
    assert "2 photos: 2 not logged" in first.stderr
    second = run("read", folder, "--logbook", logbook)
    assert second.stdout == ""
    assert second.stderr.split("\n")[-2] == "2 photos: 2 still not logged"
    assert "wall.png" not in second.stderr
    named = run("read", folder / "wall.png", "--logbook", logbook)
    assert "wall.png: " in named.stdout
    body = logged(logbook, "read", folder)
    assert [one["outcome"] for one in body["photos"]] == ["refused", "refused"]
    assert {one["photo"] for one in body["readings"]} >= {str(folder / "wall.png")}


def test_pictures_of_what_was_found_are_never_read_as_photos(photos: Path, tmp_path: Path) -> None:
    folder, logbook = tmp_path / "camera", tmp_path / "season.logbook"
    folder.mkdir()
    copy(photos / "murky.png", folder)
    logged(logbook, "read", folder, "--overlay", folder / "found")
    again = logged(logbook, "read", folder)
    assert [photo["outcome"] for photo in again["photos"]] == ["known"]
    copy(folder / "found" / "murky.png.overlay.jpg", folder / "renamed.jpg")
    renamed = logged(logbook, "read", folder / "renamed.jpg")
    assert renamed["photos"][0]["outcome"] == "refused"
    assert "picture of what was found" in renamed["readings"][0]["checks"][0]["advice"]
    assert count(logbook, "readings") == 1


def test_an_unknown_tub_and_a_time_that_is_the_files_are_pointed_out(
    photos: Path, tmp_path: Path
) -> None:
    photo = Path(copy(photos / "murky.png", tmp_path))
    os.utime(photo, (SAVED.timestamp(), SAVED.timestamp()))
    result = run("read", photo, "--logbook", tmp_path / "season.logbook")
    assert result.exit_code == 0
    assert "murky.png is logged as of 4 Mar 2026, the day of its file" in result.stderr
    assert "greasecheck reading wrong 12" in result.stderr
    assert "tub 12 was new" in result.stderr
    assert "murky.png" in result.stdout


def test_shift_corrects_the_clock(photos: Path, tmp_path: Path) -> None:
    logbook = tmp_path / "season.logbook"
    plain = logged(logbook, "read", photos / "murky.png", "--no-log")["readings"][0]["taken_at"]
    logged(logbook, "read", photos / "murky.png", "--shift", "-2d")
    with Logbook(logbook) as book:
        ((kept,),) = book.rows("SELECT taken_at FROM readings")
    assert kept[:10] < plain[:10]


def test_watch_takes_one_folder(photos: Path, tmp_path: Path) -> None:
    logbook = tmp_path / "season.logbook"
    result = run("read", photos / "murky.png", "--watch", "--logbook", logbook)
    assert result.exit_code == 1
    assert "one folder" in result.stderr


@pytest.mark.slow
def test_watched_folder_logs_what_arrives(photos: Path, tmp_path: Path) -> None:
    folder, logbook = tmp_path / "camera", tmp_path / "season.logbook"
    folder.mkdir()
    command = ["read", str(folder), "--watch", "--logbook", str(logbook)]
    process = subprocess.Popen(
        [sys.executable, "-m", "greasecheck", *command],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    try:
        copy(photos / "murky.png", folder)
        deadline = time.monotonic() + 300
        while time.monotonic() < deadline and not (logbook.exists() and count(logbook, "readings")):
            time.sleep(0.5)
        assert count(logbook, "readings") == 1
    finally:
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=300)
    assert process.returncode == 130
