"""What the commands that enter tubs, skulls and promises ask back, warn of and keep."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import pytest

from greasecheck.cli.entries.promises import _promise_line
from greasecheck.garage.promises import PromiseOdds
from greasecheck.logbook.records import Promise
from tests.unit.cli.photos.test_read import run

if TYPE_CHECKING:
    pass

ACETONE = "never warm an acetone bath"


def told(*words: object) -> str:
    """Return what a command that succeeds says on stderr."""
    result = run(*words)
    assert result.exit_code == 0, result.output
    return result.stderr


def answer(*words: object) -> Any:  # noqa: ANN401 - JSON of any shape
    return json.loads(run(*words, "--json").stdout)


@pytest.mark.parametrize(("degrees", "asked"), [(60, ""), (61, "16 °C"), (95, "35 °C")])
def test_more_than_sixty_degrees_may_be_fahrenheit(degrees: int, asked: str) -> None:
    """95 degrees Fahrenheit are 35 degrees C, 61 are 16: (F - 32) / 1.8."""
    said = told("change", 12, "--recipe", "soap", "--temperature", degrees)
    assert ("°F" in said) is bool(asked)
    assert asked in said


def test_each_tub_that_was_just_changed_is_named() -> None:
    told("change", 12, 14, "--recipe", "soap", "--at", "20min ago")
    again = told("change", 12, 14)
    assert again.count("stands already") == 2
    assert "tub 12: a change at" in again
    assert "tub 14: a change at" in again


def test_a_bath_corrected_to_warm_acetone_is_warned_of() -> None:
    told("change", 12, "--recipe", "acetone", "--temperature", 18, "--at", "2d ago")
    fields = ("--instead-of", "2d ago", "--at", "36h ago", "--temperature", 30)
    assert told("change", 12, *fields).count(ACETONE) == 1


def test_an_acetone_bath_found_warm_is_warned_of() -> None:
    told("change", 12, "--recipe", "acetone", "--temperature", 18, "--at", "2d ago")
    assert ACETONE not in told("tub", 12, "--temperature", 19, "--at", "1h ago")
    assert told("tub", 12, "--temperature", 30).count(ACETONE) == 1


def test_skulls_of_all_emptied_tubs_are_named() -> None:
    for tub, name in ((12, "fox"), (14, "hare")):
        told("change", tub, "--recipe", "soap", "--at", "2d ago")
        told("skull", name, "--tub", tub, "--at", "1d ago")
    left = told("change", "12", "14", "--empty")
    assert "fox still lies in tub 12" in left
    assert "hare still lies in tub 14" in left


def test_a_fact_beside_an_event_is_refused_and_nothing_is_entered() -> None:
    told("change", 12, "--recipe", "soap", "--at", "2d ago")
    told("skull", "fox", "--tub", 12, "--at", "1d ago")
    for facts in (("--species", "fox"), ("--owner", "Eva")):
        refused = run("skull", "fox", "degreased", *facts)
        assert refused.exit_code == 1
        assert "entries of their own" in refused.stderr
    (fox,) = answer("skull")["skulls"]
    assert (fox["species"], fox["owner"], fox["soak"]["tub"]) == (None, None, 12)


@pytest.mark.parametrize(
    "unused", [("--strength", 0), ("--hours", 0), ("--share", 0), ("--yellowness", 0)]
)
def test_even_a_zero_that_says_nothing_of_an_event_is_refused(unused: tuple[str, int]) -> None:
    told("change", 12, "--recipe", "soap", "--at", "2d ago")
    told("skull", "fox", "--tub", 12, "--at", "1d ago")
    refused = run("skull", "fox", "degreased", *unused)
    assert refused.exit_code == 2
    assert "goes with" in refused.stderr
    assert answer("skull")["skulls"][0]["soak"]["tub"] == 12


def test_a_soak_is_counted_from_its_begin_not_from_the_move() -> None:
    for tub in (12, 14):
        told("change", tub, "--recipe", "soap", "--at", "30d ago")
    told("skull", "fox", "--tub", 12, "--at", "20d ago")
    told("skull", "fox", "moved", "--tub", 14, "--at", "5d ago")
    assert "tub 14, soaking for 20 d" in run("skull").stdout


def test_a_promised_day_lasts_to_its_evening_and_a_promised_hour_is_kept() -> None:
    told("skull", "fox", "--new")
    day = f"{datetime.now(UTC) + timedelta(days=90):%Y-%m-%d}"
    for typed, hour in ((day, "23:59"), (f"{day} 14:30", "14:30")):
        ready_by = datetime.fromisoformat(answer("promise", "fox", typed)["promise"]["ready_by"])
        assert f"{ready_by.astimezone():%Y-%m-%d %H:%M}" == f"{day} {hour}"


@pytest.mark.parametrize(("now", "is_told"), [(0.95, False), (0.3, True)])
def test_the_owner_of_a_promise_in_danger_is_told_early(now: float, *, is_told: bool) -> None:
    at = datetime(2026, 3, 1, tzinfo=UTC)
    made = Promise(skull="fox", promised_at=at, ready_by=at + timedelta(days=90), probability=0.9)
    line = _promise_line(PromiseOdds(promise=made, now=now))
    assert "when promised 9 in 10" in line
    assert line.endswith(": tell its owner early") is is_told
