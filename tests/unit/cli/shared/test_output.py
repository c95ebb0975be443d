"""Answers are JSON that any program reads; errors and slips go to stderr with what to do."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from greasecheck.cli.shared.output import print_error, print_json, print_slips
from greasecheck.errors import LogbookError
from greasecheck.logbook.records import Tub
from greasecheck.logbook.water.baths import enter_tub
from greasecheck.words.ways import way_of

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook

HINT = "enter its bath first"


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_what_is_no_number_is_no_answer(capsys: pytest.CaptureFixture[str], value: float) -> None:
    with pytest.raises(ValueError, match="JSON"):
        print_json({"haze_per_m": value})
    assert capsys.readouterr().out == ""


@pytest.mark.parametrize("as_json", [True, False])
def test_a_hint_comes_with_the_command_that_does_it(
    capsys: pytest.CaptureFixture[str], as_json: bool
) -> None:
    print_error(LogbookError("tub 12 holds no water", hint=HINT), as_json=as_json)
    out, told = capsys.readouterr()
    assert out == ""
    hint = json.loads(told)["error"]["hint"] if as_json else told.rpartition("hint: ")[2].strip()
    assert hint == f"{HINT} ({way_of(HINT)})"
    print_error(LogbookError("no", hint="look"), as_json=False)
    assert capsys.readouterr().err.endswith("hint: look\n")


def test_a_date_that_contradicts_others_is_said_with_the_way_back(
    book: Logbook, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    enter_tub(book, Tub(number=12))
    seen: list[int] = []

    def slips(_: Logbook, entry: int) -> tuple[str, ...]:
        seen.append(entry)
        return ("it was filled before it was there",)

    monkeypatch.setattr("greasecheck.logbook.date_slips.entry_slips", slips)
    print_slips(book)
    out, told = capsys.readouterr()
    assert (out, seen) == ("", [1])
    assert told.startswith("it was filled before it was there; ")
    assert told.rstrip().endswith("greasecheck undo")
