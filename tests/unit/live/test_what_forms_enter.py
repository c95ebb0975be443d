"""What is typed into a form stands in the logbook, in its units and in no other column."""

from __future__ import annotations

import math
import re
from datetime import UTC, datetime, timedelta
from io import BytesIO
from typing import TYPE_CHECKING

import pytest

from greasecheck.logbook.store.times import from_text, to_text
from greasecheck.measure.turbidity import scale_from_json

if TYPE_CHECKING:
    from tests.unit.live.phones import Phone

SERIES = b"""# formazin, the columns in an order of my own
attenuation_per_m,std_per_m,turbidity,turbidity_std
0,0.05,0,0.1
5,0.05,10,0.2
10,0.05,20,0.4
20,0.05,40,0.8
"""


def read(phone: Phone, hours_ago: float, haze: float = 12.0) -> str:
    """Enter a reading by hand, and return its key."""
    at = datetime.now(UTC).replace(microsecond=0) - timedelta(hours=hours_ago)
    typed = f"{at.astimezone():%Y-%m-%dT%H:%M:%S}"
    fields = {"haze": str(haze), "std": "1", "when": "at", "at": typed}
    assert phone.post("/tubs/12/reading", fields).status_code == 303
    [(key,)] = phone.rows(f"SELECT key FROM readings WHERE taken_at = '{to_text(at)}'")
    return str(key)


def times(phone: Phone) -> dict[str, datetime]:
    rows = phone.rows("SELECT key, taken_at FROM readings")
    return {str(key): from_text(str(at)) for key, at in rows}


def test_percent_left_at_a_filling_are_kept_as_a_share_beside_its_reason(phone: Phone) -> None:
    fields = {"left": "10", "why": "heater was off", "note": "smelly", "temperature": "38"}
    phone.post("/tubs/12/changed", fields)
    kept = "SELECT carry_over_share, why, note, temperature_c FROM baths ORDER BY filled_at DESC"
    assert phone.rows(kept)[0] == (0.1, "heater was off", "smelly", 38.0)


def test_a_bath_corrected_at_the_same_time_keeps_it(phone: Phone) -> None:
    [(filled_at,)] = phone.rows("SELECT filled_at FROM baths")
    fields = {"near": str(filled_at).replace("Z", "+00:00"), "when": "same", "temperature": "38"}
    assert phone.post("/tubs/12/bath", fields).status_code == 303
    assert phone.rows("SELECT filled_at, temperature_c FROM baths") == [(filled_at, 38.0)]


def test_one_tub_just_changed_among_several_is_asked_about(phone: Phone) -> None:
    phone.post("/tubs/14/changed", {"recipe": "soap", "when": "yesterday"})
    phone.post("/tubs/12/changed")
    asked = phone.post("/changes", {"tub": ["12", "14"], "when": "now"})
    assert "Changed again?" in asked.text
    assert phone.count("baths") == 3


@pytest.mark.parametrize(
    ("seen", "bound", "haze"),
    [("clear", "below", 1.0), ("milky", "above", -math.log(0.05) / 0.1)],
)
def test_what_an_eye_sees_is_a_bound(phone: Phone, seen: str, bound: str, haze: float) -> None:
    """Letters are lost where 5 % of their contrast is left; behind 100 mm at -ln 0.05 / 0.1 m."""
    phone.post("/tubs/12/reading", {"seen": seen})
    rows = phone.rows("SELECT bound, attenuation_per_m, note FROM readings")
    assert rows == [(bound, pytest.approx(haze, rel=0.01), "by eye")]


def test_a_bones_yellowness_may_be_below_zero_and_keeps_its_state(phone: Phone) -> None:
    fields = {"yellowness": "-2,5", "yellowness_std": "0,5", "state": "dry", "skull": "fox 3"}
    phone.post("/tubs/12/reading", fields)
    rows = phone.rows("SELECT bone_yi_e313, bone_yi_std, bone_state, skull FROM readings")
    assert rows == [(-2.5, 0.5, "dry", "fox 3")]


def test_two_numbers_are_one_tub_only_where_that_is_ticked(phone: Phone) -> None:
    assert phone.post("/tubs/12/number", {"number": "14"}).status_code == 409
    assert phone.rows("SELECT DISTINCT tub FROM baths") == [(12,)]
    assert phone.post("/tubs/12/number", {"number": "14", "merge": "yes"}).status_code == 303
    assert phone.rows("SELECT DISTINCT tub FROM baths") == [(14,)]


def whiten(phone: Phone, strength: str, hours: str) -> str:
    """Whiten the fox, and return the page that follows."""
    phone.post("/skull/happened", {"skull": "fox 3", "kind": "degreased"})
    fields = {"skull": "fox 3", "kind": "whitened", "strength": strength, "hours": hours}
    return phone.get(str(phone.post("/skull/happened", fields).location)).text


def test_strength_and_hours_of_a_whitening_are_kept(phone: Phone) -> None:
    whiten(phone, "3", "24")
    rows = "SELECT strength_percent, duration_h FROM skull_events WHERE kind = 'whitened'"
    assert phone.rows(rows) == [(3.0, 24.0)]


def test_strong_peroxide_is_warned_of_each_time_and_weak_the_first(phone: Phone) -> None:
    assert "Peroxide eats bone" in whiten(phone, "35", "72")
    fields = {"skull": "fox 3", "kind": "whitened", "strength": "3", "hours": "12"}
    again = phone.get(str(phone.post("/skull/happened", fields).location)).text
    assert "Peroxide eats bone" not in again
    assert "goggles" not in again  # that was shown with the first
    strong = {**fields, "strength": "35", "hours": "72"}
    assert (
        "Peroxide eats bone" in phone.get(str(phone.post("/skull/happened", strong).location)).text
    )


def test_an_acetone_bath_found_warm_is_warned_of(phone: Phone) -> None:
    phone.post("/tubs/12/changed", {"recipe": "acetone", "temperature": "18"})
    answer = phone.post("/tubs/12/temperature", {"temperature": "30"})
    assert "ever warm an acetone bath" in phone.get(str(answer.location)).text
    cool = phone.post("/tubs/12/temperature", {"temperature": "18"})
    assert "ever warm an acetone bath" not in phone.get(str(cool.location)).text


@pytest.mark.parametrize(("seen", "yellowed"), [("yellow", 1), ("white", 0)])
def test_a_later_look_keeps_what_was_seen_and_its_share(
    phone: Phone, seen: str, yellowed: int
) -> None:
    whiten(phone, "3", "24")
    fields = {"skull": "fox 3", "seen": seen, "yellowness": "22", "patches": "25"}
    assert phone.post("/skull/looked", fields).status_code == 303
    rows = phone.rows("SELECT yellowed, yi_e313, yellow_patch_share FROM follow_ups")
    assert rows == [(yellowed, 22.0, 0.25)]


def test_a_promised_day_lasts_to_its_evening(phone: Phone) -> None:
    phone.post("/skull/promise", {"skull": "fox 3", "day": "2031-03-05"})
    [(ready_by,)] = phone.rows("SELECT ready_by FROM promises")
    promised = from_text(str(ready_by)).astimezone()
    assert (f"{promised:%Y-%m-%d}", promised.hour) == ("2031-03-05", 23)
    far = phone.post("/skull/promise", {"skull": "fox 3", "day": "2999-03-05"})
    assert "more than 10 years away" in far.text
    assert phone.count("promises") == 1


def test_a_form_for_what_is_new_changes_nothing_that_is_entered(phone: Phone) -> None:
    skulls, tubs = "SELECT * FROM skulls", "SELECT * FROM tubs"
    before = phone.rows(skulls), phone.rows(tubs)
    assert 'name="is_new" value="yes"' in phone.get("/skulls").text
    skull = phone.post("/skulls", {"name": "fox 3", "species": "badger", "is_new": "yes"})
    tub = phone.post("/tubs", {"number": "12", "name": "shed"})
    assert (skull.status_code, tub.status_code) == (400, 400)
    assert "A skull fox 3 is entered already" in skull.text
    assert "A tub 12 is entered already" in tub.text
    assert (phone.rows(skulls), phone.rows(tubs)) == before
    phone.post("/skulls", {"name": "fox 3", "species": "badger"})  # from its own page
    phone.post("/tubs/12/facts", {"name": "shed"})
    assert phone.rows("SELECT species FROM skulls WHERE name = 'fox 3'") == [("badger",)]
    assert phone.rows("SELECT name FROM tubs WHERE number = 12") == [("shed",)]


def test_a_tub_with_the_name_of_another_is_refused_with_what_to_do(phone: Phone) -> None:
    before = phone.rows("SELECT * FROM tubs")
    phone.post("/tubs/12/facts", {"name": "shed"})
    page = phone.post("/tubs", {"number": "20", "name": "Shed"})
    assert page.status_code == 409
    assert "Tub 12 and tub 20 would have the same name" in page.text
    assert "give one of them another name" in page.text.lower()
    assert len(phone.rows("SELECT * FROM tubs")) == len(before)


def test_a_limit_is_told_without_powers_of_ten(phone: Phone) -> None:
    page = phone.post("/setup/choice", {"change_price": "-3"}).text
    assert "a number from 0 to 1000000," in page


def test_one_later_entry_that_rests_on_another_is_asked_about(phone: Phone) -> None:
    phone.post("/tubs", {"number": "20"})  # entry 5
    phone.post("/tubs/20/changed", {"recipe": "soap"})
    answer = phone.post("/entries/5/undo")
    assert answer.location == "/entries/5"
    assert (20,) in phone.rows("SELECT number FROM tubs")
    assert "rests on this one" in phone.get("/entries/5").text


def test_a_reading_is_marked_wrong_and_right_again(phone: Phone) -> None:
    key = read(phone, 5)
    for what, wrong in (("wrong", 1), ("right", 0)):
        phone.post("/tubs/12/correction", {"key": key, "what": what})
        assert phone.rows("SELECT wrong FROM readings") == [(wrong,)]
        (line,) = re.findall(r"Tub 12, [^<]*: haze [^<]*", phone.get("/entries/5").text)
        assert line.strip().endswith(", marked wrong.") is bool(wrong)


@pytest.mark.parametrize("later_too", [False, True])
def test_a_clock_that_was_slow_is_put_on_from_a_reading_on(
    phone: Phone, *, later_too: bool
) -> None:
    first, chosen, last = (read(phone, hours) for hours in (60, 40, 20))
    before = times(phone)
    fields = {"key": chosen, "hours": "2", **({"later": "yes"} if later_too else {})}
    assert phone.post("/tubs/12/shift", fields).status_code == 303
    moved = sorted(
        (after - was) / timedelta(hours=1)
        for after, was in zip(sorted(times(phone).values()), sorted(before.values()), strict=True)
    )
    assert moved == ([0.0, 2.0, 2.0] if later_too else [0.0, 0.0, 2.0])
    assert before[first] in times(phone).values()
    assert (before[last] in times(phone).values()) is not later_too


def test_a_dilution_series_is_read_by_its_columns_names(phone: Phone) -> None:
    fields = {"unit": "FNU", "series": (BytesIO(SERIES), "series.csv")}
    assert phone.post("/setup/turbidity", fields).status_code == 303
    [(body,)] = phone.rows("SELECT body FROM standards WHERE kind = 'turbidity'")
    scale = scale_from_json(str(body), "series")
    assert scale.slope == pytest.approx(2.0)
    assert (scale.unit, scale.points) == ("FNU", 4)
