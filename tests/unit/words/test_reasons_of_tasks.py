"""Why something is asked for, in the cases that the list of a garage seldom shows."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

from greasecheck.answers import Finding, Task
from greasecheck.words.answers import in_ten, sentence, why

NOW = datetime(2026, 3, 10, 12).astimezone()
DAY = timedelta(days=1)


def about(early: datetime | None, late: datetime | None) -> str:
    return why(Task(finding=Finding.CLEAR_ABOUT, tub=12, span=(early, late)), NOW)


def test_a_range_names_the_ends_that_are_still_to_come() -> None:
    assert about(NOW + DAY, NOW + 5 * DAY) == "8 times in 10 from 11 to 15 Mar."
    assert about(NOW - DAY, NOW + 5 * DAY) == "By 15 Mar 9 times in 10."
    assert about(NOW, NOW + 5 * DAY) == "By 15 Mar 9 times in 10."
    assert about(NOW - DAY, None) == ""
    assert about(NOW + DAY, None) == "9 times in 10 not before 11 Mar."
    assert about(None, None) == ""


def test_what_a_refused_photo_needs_goes_before_its_day() -> None:
    refused = Task(
        finding=Finding.RETAKE_PHOTO, tub=12, since=NOW, note="the jar is empty; fill it"
    )
    assert why(refused, NOW) == "the jar is empty; fill it"


def test_a_day_that_has_gone_by_is_any_day_now() -> None:
    for days, words in ((-1, "any day now"), (0, "any day now"), (1, "about 11 Mar")):
        task = Task(finding=Finding.CLEAR_ABOUT, tub=12, since=NOW + days * DAY)
        assert sentence(task, NOW) == f"Tub 12: degreased {words}."


def test_water_to_be_changed_is_told_by_its_age_where_it_draws_almost_all() -> None:
    def told(share: float | None, days: float | None) -> str:
        return why(Task(finding=Finding.CHANGE_WATER, tub=12, share=share, days=days), NOW)

    drawn = "it draws a third of what fresh water would."
    assert told(0.38, 6.2) == f"Bone has soaked in its water for 6 days: {drawn}"
    assert told(0.38, 1.0) == f"Bone has soaked in its water for 1 day: {drawn}"
    assert told(0.38, None) == "Its water draws a third of what fresh water would."
    assert told(0.97, 12.0) == "Bone has soaked in its water for 12 days."


def test_a_promise_in_danger_names_both_odds_in_their_order() -> None:
    task = Task(
        finding=Finding.PROMISE_AT_RISK, skull="fox 3", since=NOW + 30 * DAY, values=(0.9, 0.2)
    )
    told = why(task, NOW)
    assert "9 Apr" in told
    assert told.index("9 in 10") < told.index("now with 2 in 10")
    unknown = why(replace(task, values=(0.2,)), NOW)
    assert unknown.endswith("It is then ready with 2 in 10.")


def test_water_that_changed_unentered_names_both_hazes_in_their_order() -> None:
    task = Task(finding=Finding.CONFIRM_CHANGE, tub=12, since=NOW, values=(21.4, 3.2))
    assert "fell from 21 to 3 /m by 10 Mar" in why(task, NOW)


def test_odds_in_ten_are_never_told_as_none_or_all() -> None:
    assert [in_ten(odds) for odds in (0.0, 0.06, 0.94, 1.0)] == [
        "less than 1 in 10",
        "1 in 10",
        "9 in 10",
        "more than 9 in 10",
    ]
