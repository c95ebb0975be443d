"""What a hurried user gets wrong, and what he is told of it."""

import json
from pathlib import Path

import pytest
from PIL import Image
from PIL.ExifTags import IFD, Base

from greasecheck.words.photos.clear_water import ONE_PHOTO
from tests.unit.cli.photos.test_read import run

SAMPLES = Path(__file__).parents[3] / "sample_images"


def retimed(name: str, time: str, folder: Path) -> Path:
    """Save a sample photo anew with another time of its camera."""
    path = folder / f"{time[:10].replace(':', '-')}_{name}"
    with Image.open(SAMPLES / name) as photo:
        exif = photo.getexif()
        exif.get_ifd(IFD.Exif)[Base.DateTimeOriginal] = time
        photo.save(path, quality=97, exif=exif)
    return path


def test_a_bath_for_clear_water_is_refused(tmp_path: Path) -> None:
    logbook = ("--logbook", tmp_path / "season.logbook")
    tagged = run("clear", SAMPLES / "09_tub21_march.jpg", *logbook)
    assert tagged.exit_code == 1
    assert "shows the tag of tub 21" in tagged.stderr
    bath = run("clear", SAMPLES / "09_tub21_march.jpg", "--tap-water", *logbook)  # 2.61 per m
    assert bath.exit_code == 1
    assert "veiled as by murky water" in bath.stderr


def test_murkier_water_for_clear_water_is_told(tmp_path: Path) -> None:
    logbook = ("--logbook", tmp_path / "season.logbook")
    copy = retimed("01_tap_water.jpg", "2026:01:20 09:00:00", tmp_path)
    for second in (copy, SAMPLES / "01_tap_water.jpg"):
        told = run("clear", SAMPLES / "01_tap_water.jpg", second, *logbook)
        assert told.stderr.strip() == ONE_PHOTO
    murky = run("clear", SAMPLES / "12_tub12_may.jpg", "--tap-water", *logbook)
    assert "murkier by 0." in murky.stderr  # truth.csv: 0.7 per m more
    assert "greasecheck undo" in murky.stderr


def test_clean_water_after_murky_tells_of_the_readings_between(tmp_path: Path) -> None:
    logbook = ("--logbook", tmp_path / "season.logbook")
    run("clear", SAMPLES / "12_tub12_may.jpg", "--tap-water", *logbook)
    later = retimed("01_tap_water.jpg", "2026:06:01 09:00:00", tmp_path)
    clean = run("clear", later, *logbook, "--json")
    assert -1.0 < json.loads(clean.stdout)["murkier_than_before_per_m"] < -0.4
    assert "readings by it are too low" in clean.stderr


def test_reference_of_another_jar_is_not_compared(tmp_path: Path) -> None:
    logbook = ("--logbook", tmp_path / "season.logbook")
    run("clear", SAMPLES / "01_tap_water.jpg", *logbook)
    thin = ("--tap-water", "--path-mm", 50, "--json")
    other = run("clear", SAMPLES / "12_tub12_may.jpg", *logbook, *thin)
    assert json.loads(other.stdout)["murkier_than_before_per_m"] is None
    assert "murkier" not in other.stderr


def tub_with_water(tmp_path: Path) -> tuple[object, ...]:
    logbook = ("--logbook", tmp_path / "season.logbook")
    run("tub", 12, "--new", *logbook)
    first = run("change", 12, "--recipe", "soap", "--at", "2026-03-04 18:05", *logbook)
    assert "stands already" not in first.stderr
    return logbook


def test_a_water_change_entered_twice_is_told(tmp_path: Path) -> None:
    logbook = tub_with_water(tmp_path)
    twice = run("change", 12, "--at", "2026-03-04 18:20", *logbook)
    assert "tub 12: a change at 4 Mar 2026, 18:05 stands already" in twice.stderr
    assert "greasecheck undo" in twice.stderr
    assert "stands already" not in run("change", 12, "--at", "2026-03-05", *logbook).stderr


def test_a_mistyped_skull_is_answered_with_the_names_it_may_be(tmp_path: Path) -> None:
    logbook = tub_with_water(tmp_path)
    assert "there is also" not in run("skull", "fox 3", "--new", *logbook).stderr
    for typed in ("Fox 3", "fox3", "fx 3"):
        for command in ((typed, "dried"), (typed, "white")):
            result = run("skull", *command, *logbook)
            assert result.exit_code == 1
            assert "is it one of: fox 3?" in result.stderr
    assert "is it one of" not in run("skull", "show", "badger", *logbook).stderr


def test_a_skull_that_differs_in_case_only_is_told(tmp_path: Path) -> None:
    logbook = tub_with_water(tmp_path)
    run("skull", "fox 3", "--new", *logbook)
    assert "there is also fox 3" in run("skull", "Fox3", "--new", *logbook).stderr
    assert "there is also" not in run("skull", "fox 4", "--new", *logbook).stderr
    assert "there is also fox 4" in run("skull", "fox\u200b 4", "--new", *logbook).stderr


def test_photos_read_before_leave_no_empty_table(tmp_path: Path) -> None:
    logbook = ("--logbook", tmp_path / "season.logbook")
    photo = SAMPLES / "09_tub21_march.jpg"
    run("read", photo, *logbook)
    assert run("read", photo, *logbook).stdout == ""


def test_what_became_of_a_skull_before_it_came_is_refused(tmp_path: Path) -> None:
    logbook = tub_with_water(tmp_path)
    run("skull", "fox 3", "--tub", 12, "--at", "2026-03-04", *logbook)
    early = run("skull", "fox 3", "degreased", "--at", "2026-01-04", *logbook)
    assert early.exit_code == 1
    assert "is done and out of its tub by then; 'entered' cannot follow" in early.stderr
    assert run("skull", "fox 3", "degreased", "--at", "2026-04-01", *logbook).exit_code == 0


def test_times_are_said_as_they_are_typed(tmp_path: Path) -> None:
    logbook = tub_with_water(tmp_path)
    twice = run("change", 12, "--at", "2026-03-04 18:05", *logbook)
    assert "already has a water change at 4 Mar 2026, 18:05\n" in twice.stderr
    late = run("change", 12, "--at", "2099-01-01", *logbook)
    assert "1 Jan 2099, 00:00 lies in the future" in late.stderr


def test_a_decimal_comma_is_pointed_out_and_one_between_tubs_is_read(tmp_path: Path) -> None:
    logbook = tub_with_water(tmp_path)
    comma = run("change", 12, "--temperature", "45,5", *logbook)
    assert comma.exit_code == 2
    assert "write 45.5 for 45,5" in " ".join(comma.stderr.split())
    assert run("tub", 14, "--new", *logbook).exit_code == 0
    assert "tub 14: soap" in run("change", "12,14", "--recipe", "soap", *logbook).stdout


def test_a_change_of_last_year_by_a_slip_is_told_by_its_date(tmp_path: Path) -> None:
    logbook = tub_with_water(tmp_path)
    slip = run("change", 12, "--at", "2025-03-06", *logbook)
    assert slip.exit_code == 1
    assert "tub 12 was first filled later, on 4 Mar 2026, 18:05" in slip.stderr
    assert "check the date, or say what goes in (--recipe soap)" in slip.stderr
    run("tub", 14, "--new", *logbook)
    assert "no earlier bath" in run("change", 14, *logbook).stderr


@pytest.mark.parametrize(
    ("words", "plain"),
    [
        (("undo", "abc"), "write a whole number, such as 12"),
        (("tub", 12, "--volume", "much"), "write a number, such as 12"),
    ],
)
def test_what_is_no_number_is_told_in_plain_words(words: tuple[object, ...], plain: str) -> None:
    refused = run(*words, "--json")
    assert refused.exit_code == 2
    problem = json.loads(refused.stderr)["error"]["problem"]
    assert problem.endswith(f": {plain}")


@pytest.mark.parametrize(
    ("words", "problem", "hint"),
    [
        (("tub", 12, "--temperature", 450), "--temperature 450", "from 0 to 100 (what its bath"),
        (("tub", 12, "--temperature", -3), "--temperature -3", "from 0 to 100 (what its bath"),
        (("tub", "--", -4), "number -4", "from 0 to 99999 (number of the tub"),
        (("tub", 12, "--topped-up", 0), "--topped-up 0", "of 0.001 or more (water poured in"),
        (("skull", "fox", "--tag", 201), "--tag 201", "from 1 to 200 (number of its own"),
        (("read", "photos", "--tub", 100000), "--tub 100000", "from 0 to 99999 ("),
    ],
)
def test_a_number_out_of_range_is_told_with_what_it_may_be(
    words: tuple[object, ...], problem: str, hint: str
) -> None:
    refused = run(*words)
    assert refused.exit_code == 1
    assert f"error[range]: {problem} is out of range\n" in refused.stderr
    assert f"hint: write a number {hint}" in refused.stderr
    told = json.loads(run(words[0], "--json", *words[1:]).stderr)["error"]
    assert (told["code"], told["problem"]) == ("range", f"{problem} is out of range")


def test_what_is_none_of_some_words_is_told_without_the_words_of_a_library() -> None:
    refused = " ".join(run("change", 12, "--recipe", "soup").stderr.split())
    assert "'--recipe': 'soup' is not one of 'soap'" in refused


def test_degrees_fahrenheit_are_asked_back(tmp_path: Path) -> None:
    logbook = tub_with_water(tmp_path)
    assert run("change", 12, "--temperature", 104, *logbook).exit_code == 1
    hot = run("change", 12, "--temperature", 95, *logbook)
    assert "if you meant 95 °F, that is 35 °C" in hot.stderr
    assert "°F" not in run("change", 12, "--temperature", 50, *logbook).stderr


def test_a_soak_is_not_begun_anew_while_it_lasts(tmp_path: Path) -> None:
    logbook = tub_with_water(tmp_path)
    enter = ("skull", "fox 3", "--tub", 12, *logbook)
    run(*enter, "--at", "2026-03-04")
    for at in ("2026-04-04", "2026-02-04"):
        again = run(*enter, "--at", at)
        assert again.exit_code == 1
        assert "skull fox 3 still soaks by then; 'entered' cannot follow" in again.stderr
        assert "greasecheck skull NAME WHAT --at TIME --instead-of TIME" in again.stderr
    run("skull", "fox 3", "degreased", "--at", "2026-05-04", *logbook)
    back = ("skull", "fox 3", "resoaked", "--tub", 12, "--at", "2026-06-04", *logbook)
    assert run(*back).exit_code == 0  # it yellowed and comes back


def test_a_follow_up_of_a_skull_that_still_soaks_is_refused(tmp_path: Path) -> None:
    logbook = tub_with_water(tmp_path)
    run("skull", "fox 3", "--tub", 12, "--at", "2026-03-04", *logbook)
    early = run("skull", "fox 3", "white", *logbook)
    assert early.exit_code == 1
    assert "skull fox 3 is not finished: it still soaks" in early.stderr
    run("skull", "fox 3", "degreased", "--at", "2026-04-04", *logbook)
    assert run("skull", "fox 3", "white", *logbook).exit_code == 0


def test_corrections_are_listed_in_figures_that_mean_something(tmp_path: Path) -> None:
    logbook = ("--logbook", tmp_path / "season.logbook")
    photo = SAMPLES / "09_tub21_march.jpg"
    run("read", photo, *logbook)
    run("clear", SAMPLES / "01_tap_water.jpg", *logbook)
    run("read", photo, "--again", *logbook)
    listed = run("reading", "list", 21, *logbook).stdout
    assert "verdict was doubtful, is good: measured again" in listed
    assert "check_" not in listed
    assert max(len(line) for line in listed.splitlines()) < 100


def test_a_reading_moved_to_an_unknown_tub_is_told(tmp_path: Path) -> None:
    logbook = tub_with_water(tmp_path)
    run("tub", 14, "--new", *logbook)
    run("reading", "add", 12, "--haze", 3, "--std", 0.3, "--at", "2026-03-05", *logbook)
    assert run("reading", "move", 12, "--to", 14, *logbook).stderr == ""
    assert "tub 77 was new" in run("reading", "move", 14, "--to", 77, *logbook).stderr


def test_a_reference_that_comes_late_asks_to_read_again(tmp_path: Path) -> None:
    logbook = ("--logbook", tmp_path / "season.logbook")
    run("read", SAMPLES / "09_tub21_march.jpg", *logbook)
    late = run("clear", SAMPLES / "01_tap_water.jpg", *logbook)
    assert "greasecheck read PHOTOS --again" in late.stderr
    newer = run("clear", SAMPLES / "12_tub12_may.jpg", "--tap-water", *logbook)
    assert "--again" not in newer.stderr


def test_a_photo_refused_again_leaves_nothing_to_undo(tmp_path: Path) -> None:
    logbook = ("--logbook", tmp_path / "season.logbook")
    refused = SAMPLES / "07_tub21_no_sheet.jpg"
    run("tub", 12, "--new", *logbook)
    run("read", refused, *logbook)
    assert "photos read" in run("undo", "--yes", *logbook).stdout
    run("read", refused, *logbook)
    run("tub", 14, "--new", *logbook)
    run("read", refused, *logbook)
    assert "taken back: tub 14" in run("undo", "--yes", *logbook).stdout


def test_the_day_of_the_next_step_stands_before_it(tmp_path: Path) -> None:
    logbook = tub_with_water(tmp_path)
    run("skull", "fox 3", "--tub", 12, "--at", "2026-03-04", *logbook)
    run("skull", "fox 3", "degreased", "--at", "2026-04-04", *logbook)
    said = run("skull", "fox 3", "--now", "2026-04-05", *logbook).stdout
    assert "  next on 4 Apr 2026: whiten it: " in said


def test_a_skull_left_in_an_emptied_tub_is_told(tmp_path: Path) -> None:
    logbook = tub_with_water(tmp_path)
    run("skull", "fox 3", "--tub", 12, "--at", "2026-03-04", *logbook)
    emptied = run("change", 12, "--empty", "--at", "2026-05-04", *logbook)
    assert "fox 3 still lies in tub 12 by the logbook" in emptied.stderr
    run("undo", "--yes", *logbook)
    run("skull", "fox 3", "degreased", "--at", "2026-05-04", *logbook)
    assert run("change", 12, "--empty", "--at", "2026-05-04", *logbook).stderr == ""
