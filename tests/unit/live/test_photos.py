"""A photo is read at once, and logged only on a person's word."""

from __future__ import annotations

import json
import re
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from html import unescape
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from greasecheck.live.photos.page import TOO_MURKY, photo_page
from greasecheck.logbook.records import Tub
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import enter_tub
from greasecheck.measure.reading import view_photo
from tests.unit.live.phones import (
    REFUSED,
    SAMPLES,
    TUB12,
    Phone,
    dated,
    without_exif,
)


def test_the_reading_is_shown_and_nothing_is_logged(phone: Phone, tub12: bytes) -> None:
    page = phone.get(phone.send(tub12)).text
    words, figures = page.split('<details id="figures">')
    for one in ("Good", "Tub 12", "16 Feb 2026", "Water very cloudy, bone"):
        assert one in words
    for one in ("± ", "per metre", "NTU (rough)", "yellowness"):
        assert one in figures
        assert one not in words
    assert phone.count("readings") == 0
    assert phone.count("attempts") == 0
    assert not phone.settings.photos.exists()


def test_a_photo_of_three_ladders_says_how_each_tub_is(phone: Phone) -> None:
    page = phone.get(phone.send((SAMPLES / "ladders" / "2026-05-24_18h.jpg").read_bytes())).text
    assert "Tubs 11, 15 and 19, 24 May 2026" in page
    places = [page.index(f"Tub {tub}: water ") for tub in (11, 15, 19)]
    assert places == sorted(places)
    assert "Tub 19: water nearly clear." in page


def test_the_figures_are_those_of_the_command(phone: Phone, tub12: bytes) -> None:
    phone.post(f"{phone.send(tub12)}/log")
    logged = phone.only_reading()
    water = view_photo(TUB12, phone.settings.read).reading.water
    assert water is not None
    assert logged.attenuation_per_m == pytest.approx(water.main_per_m, rel=1e-12)


def test_the_picture_of_what_was_found_is_shown(phone: Phone, tub12: bytes) -> None:
    answer = phone.get(f"{phone.send(tub12)}/found.jpg")
    assert answer.mimetype == "image/jpeg"
    with Image.open(BytesIO(answer.data)) as image:
        assert image.width == 1400


def test_a_logged_photo_is_kept_whole_under_a_name_of_ours(phone: Phone, tub12: bytes) -> None:
    page = phone.send(tub12, "../../etc/passwd.jpg")
    answer = phone.post(f"{page}/log", {"skull": "fox 3"})
    assert answer.location == page
    assert "In the logbook for tub 12" in phone.get(page).text
    [kept] = phone.settings.photos.iterdir()
    assert kept.read_bytes() == tub12
    assert kept.name.endswith(".jpg")
    assert "passwd" not in kept.name
    logged = phone.only_reading()
    assert logged.photo_path == str(kept)
    assert logged.skull == "fox 3"
    assert list(phone.settings.waiting.iterdir()) == []


def test_logging_twice_gives_one_reading(phone: Phone, tub12: bytes) -> None:
    page, token = phone.send(tub12), phone.token()
    for _ in range(2):
        assert phone.post(f"{page}/log", token=token).location == page
    assert phone.post(f"{page}/log").location == page
    assert phone.count("readings") == 1
    assert phone.count("entries") == 5


def test_of_two_who_name_different_skulls_the_second_is_told(phone: Phone, tub12: bytes) -> None:
    page = phone.send(tub12)
    phone.post(f"{page}/log", {"skull": "fox 3"})
    answer = phone.post(f"{page}/log", {"skull": "another"})
    assert answer.status_code == 400
    assert "in the logbook already" in answer.text
    assert phone.only_reading().skull == "fox 3"


def test_the_same_photo_waits_once_and_is_known_once_logged(phone: Phone, tub12: bytes) -> None:
    first, second = phone.send(tub12), phone.send(tub12, "again.jpg")
    assert first == second
    phone.post(f"{first}/log")
    assert "nothing is added" not in phone.get(first).text
    third = phone.send(tub12)
    assert third != first
    page = phone.get(third).text
    assert "In the logbook for tub 12" in page
    assert "nothing is added" in page
    assert "Log it" not in page
    decided = re.findall(r"Tub 12: (logged[^,<]*)", phone.get("/photos").text)
    assert sorted(decided) == ["logged", "logged before"]
    assert phone.live.waiting.waiting() == (), "nothing is left to decide"
    phone.post(f"{third}/log")
    assert phone.count("readings") == 1
    assert len(list(phone.settings.photos.iterdir())) == 1


def test_a_photo_thrown_away_is_gone(phone: Phone, tub12: bytes) -> None:
    page, other = phone.send(tub12), phone.send(without_exif())
    assert phone.post(f"{other}/throw-away").location == "/photos", "another waits"
    assert phone.post(f"{page}/throw-away").location == "/"
    assert list(phone.settings.waiting.iterdir()) == []
    assert phone.get(page).status_code == 404
    assert phone.post(f"{page}/log").status_code == 404
    assert phone.post(f"{page}/throw-away").status_code == 303
    assert phone.count("readings") == 0


def test_a_reading_taken_back_is_wrong_and_can_be_logged_again(phone: Phone, tub12: bytes) -> None:
    page = phone.send(tub12)
    phone.post(f"{page}/log")
    assert "Tub 12, 16 Feb 2026, " in phone.get("/entries/5").text
    phone.post("/entries/5/undo")
    assert phone.only_reading().wrong
    assert ", marked wrong" in phone.get("/entries/5").text
    shown = phone.get(page).text
    assert "It was logged and then taken back" in shown
    assert "In the logbook" not in shown
    again = phone.send(tub12)
    phone.post(f"{again}/log")
    assert not phone.only_reading().wrong


def test_a_photo_without_time_is_never_logged_unasked(phone: Phone) -> None:
    page = phone.send(without_exif())
    assert "The photo tells no time" in phone.get(page).text
    answer = phone.post(f"{page}/log")
    assert answer.status_code == 400
    assert "tells no time" in answer.text
    assert phone.count("readings") == 0
    assert not phone.settings.photos.exists()


def test_the_time_given_by_hand_is_logged_as_such(phone: Phone) -> None:
    page = phone.send(without_exif())
    before = datetime.now(UTC)
    phone.post(f"{page}/log", {"taken": "now"})
    logged = phone.only_reading()
    assert abs(logged.taken_at - before) < timedelta(seconds=30)
    [(source, plan)] = phone.rows(
        "SELECT time_source, checks FROM readings JOIN check_plans ON check_plan = check_plans.key"
    )
    assert source == "by hand"
    assert "time_given_by_hand" in plan
    assert "time_from_camera" not in plan


def test_a_photo_from_a_clock_that_is_ahead_asks_for_its_time(phone: Phone) -> None:
    page = phone.send(dated("2190:01:01 10:00:00"))
    assert "its clock is ahead" in phone.get(page).text
    assert phone.post(f"{page}/log").status_code == 400
    assert phone.count("readings") == 0
    before = datetime.now(UTC)
    phone.post(f"{page}/log", {"taken": "now"})
    assert abs(phone.only_reading().taken_at - before) < timedelta(minutes=2)


def test_another_time_becomes_the_kept_files_own(phone: Phone) -> None:
    page = phone.send(without_exif())
    told = datetime.now().astimezone().replace(second=0, microsecond=0) - timedelta(hours=20)
    phone.post(f"{page}/log", {"taken": "at", "taken_at": f"{told:%Y-%m-%dT%H:%M}"})
    logged = phone.only_reading()
    assert logged.taken_at == told
    assert logged.photo_path is not None
    assert Path(logged.photo_path).stat().st_mtime == told.timestamp()


@pytest.mark.parametrize("told", ["", "soon", "0001-01-01T00:00", "2999-01-01T00:00"])
def test_an_impossible_time_is_refused(phone: Phone, told: str) -> None:
    page = phone.send(without_exif())
    answer = phone.post(f"{page}/log", {"taken": "at", "taken_at": told})
    assert answer.status_code in {400, 409}
    assert phone.count("readings") == 0


def test_what_a_person_tells_goes_into_the_reading(phone: Phone, tub12: bytes) -> None:
    page = phone.send(tub12)
    phone.post(f"{page}/log", {"tub": "14", "dilution": "2", "state": "dry"})
    logged = phone.only_reading()
    assert logged.tub == 14
    assert logged.bone_state == "dry"
    [(dilution,)] = phone.rows("SELECT dilution FROM readings")
    assert dilution == 2.0
    assert "To tub 14" in phone.get(page).text, "what comes next is told of that tub"
    plain = view_photo(TUB12, phone.settings.read).reading.water
    assert plain is not None
    assert logged.attenuation_per_m == pytest.approx(2 * plain.main_per_m, rel=0.02)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("tub", "x"),
        ("tub", "-1"),
        ("tub", "12.5"),
        ("tub", "inf"),
        ("dilution", "0.5"),
        ("dilution", "nan"),
        ("state", "soggy"),
    ],
)
def test_nonsense_is_refused_and_the_photo_still_waits(
    phone: Phone, tub12: bytes, field: str, value: str
) -> None:
    page = phone.send(tub12)
    assert phone.post(f"{page}/log", {field: value}).status_code == 400
    assert phone.get(page).status_code == 200
    assert phone.count("readings") == 0


def test_a_refused_photo_is_at_most_an_attempt(phone: Phone) -> None:
    page = phone.send(REFUSED.read_bytes())
    shown = phone.get(page).text
    assert "Refused" in shown
    assert shown.index("The light is uneven") < shown.index("The picture is too dark")
    assert "per metre" not in shown
    phone.post(f"{page}/log", {"tub": "12"})
    assert phone.count("readings") == 0
    assert phone.rows("SELECT tub FROM attempts") == [(12,)]
    [kept] = phone.settings.photos.iterdir()
    assert phone.rows("SELECT photo_path FROM attempts") == [(str(kept),)]
    assert "Kept in the logbook as a refused photo" in phone.get(page).text
    assert "Refused: the light is uneven" in phone.get("/entries/5").text
    assert "photo again please" in phone.get("/").text


def test_several_photos_are_read_and_the_good_ones_logged(phone: Phone, tub12: bytes) -> None:
    photos = [tub12, REFUSED.read_bytes(), (SAMPLES / "05_tub17_march.jpg").read_bytes()]
    answer = phone.post(
        "/photos", {"photo": [(BytesIO(c), f"{n}.jpg") for n, c in enumerate(photos)]}
    )
    assert answer.location == "/photos"
    page = phone.get("/photos").text
    assert "3 wait for your word" in page
    assert "Log the 2 good ones" in page
    assert phone.post("/photos/log-good").location == "/photos"
    assert phone.rows("SELECT tub FROM readings ORDER BY tub") == [(12,), (17,)]
    page = phone.get("/photos").text
    assert "1 waits for your word" in page
    assert "Tub 17: logged" in page


def test_a_photo_from_before_its_tubs_first_day_is_shown_as_it_is_logged(
    phone: Phone, tub12: bytes
) -> None:
    with Logbook(phone.settings.logbook) as book:
        enter_tub(book, Tub(number=12, started_at=datetime(2026, 3, 1, tzinfo=UTC)))
    page = phone.send(tub12)
    assert "Doubtful" in phone.get(page).text
    assert "before the first day of tub 12" in phone.get(page).text
    assert "good ones" not in phone.get("/photos").text
    phone.post(f"{page}/log")
    assert phone.only_reading().verdict == "doubtful"


def test_a_murky_jar_asks_for_dilution(phone: Phone) -> None:
    page = phone.get(phone.send((SAMPLES / "04_tub14_february.jpg").read_bytes())).text
    assert "above" in page
    assert TOO_MURKY[1:] in page


def test_two_phones_lose_nothing(phone: Phone, tub12: bytes) -> None:
    other = Phone(app=phone.app, settings=phone.settings)
    first = phone.send(tub12)
    second = other.send((SAMPLES / "05_tub17_march.jpg").read_bytes())
    other.post(f"{second}/log")
    phone.post(f"{first}/log")
    assert phone.rows("SELECT tub FROM readings ORDER BY tub") == [(12,), (17,)]
    assert phone.post("/entries/5/undo").status_code == 303
    assert phone.rows("SELECT tub FROM readings WHERE wrong = 1") == [(17,)]


def test_phones_at_the_same_moment_lose_nothing(phone: Phone, tub12: bytes) -> None:
    with Logbook(phone.settings.logbook) as book:
        for number in range(20, 26):
            enter_tub(book, Tub(number=number))

    def day_of_work(number: int) -> None:
        own = Phone(app=phone.app, settings=phone.settings)
        page = own.send(tub12 + bytes([number]))
        own.post(f"{page}/log", {"tub": str(number)})
        own.post(f"/tubs/{number}/changed", {"recipe": "soap"})

    with ThreadPoolExecutor(6) as phones:
        list(phones.map(day_of_work, range(20, 26)))
    tubs = [(number,) for number in range(20, 26)]
    assert phone.rows("SELECT tub FROM readings ORDER BY tub") == tubs
    assert phone.rows("SELECT tub FROM baths WHERE tub >= 20 ORDER BY tub") == tubs
    assert len(list(phone.settings.photos.iterdir())) == 6
    assert phone.live.waiting.waiting() == ()


def test_the_page_of_a_file_that_waits_is_made_without_the_server(
    phone: Phone, tub12: bytes
) -> None:
    phone.send(tub12)
    with Logbook(phone.settings.logbook) as book:
        page = photo_page(book, phone.live.waiting.waiting()[0])
    assert [fact.name for fact in page.facts][:2] == ["Haze", "Turbidity"]
    assert page.tubs == (12, 14)
    assert [skull.name for skull in page.skulls] == ["fox 3"]


def test_what_lies_on_the_rest_is_corrected_by_a_tap_and_a_loop(phone: Phone, tub12: bytes) -> None:
    page = phone.send(tub12)
    shown = phone.get(page).text
    [outline] = json.loads(unescape(shown.split('data-pieces="')[1].split('"')[0]))
    places = np.array(outline)
    (left, top), (right, bottom) = places.min(axis=0), places.max(axis=0)
    middle = (left + right) / 2
    half = [[left - 9, top - 9], [middle, top - 9], [middle, bottom + 9], [left - 9, bottom + 9]]
    phone.post(f"{page}/draw", {"drawn": json.dumps([["leave_out", 1, half]])})
    assert "Left out beside the bone: 1 piece left out by hand" in phone.get(page).text
    phone.post(f"{page}/draw", {"anew": "yes"})
    assert "left out by hand" not in phone.get(page).text
    on_it = places[:, 0].mean(), places[:, 1].mean()
    phone.post(f"{page}/draw", {"drawn": json.dumps([["tap", 1, [on_it]]])})
    assert "The rest is empty" in phone.get(page).text


def test_a_refused_sheet_asks_for_no_outline(phone: Phone, tub12: bytes) -> None:
    assert 'id="drawable"' in phone.get(phone.send(tub12)).text
    assert 'id="drawable"' not in phone.get(phone.send(REFUSED.read_bytes(), "b.jpg")).text
