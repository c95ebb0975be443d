"""Looks as they were known at a time: at the terminal and on the owner's page."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from typer.testing import CliRunner

from greasecheck.cli.app import app
from greasecheck.logbook.readings.readings import insert_reading
from greasecheck.logbook.records import Tub
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub
from greasecheck.model import Recipe
from greasecheck.reference import data_folder
from greasecheck.report.skull import owner
from tests.logbook_samples import day, make_bone, make_reading
from tests.skull_log import soak

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.logbook.store.book import Logbook

SIDES = (("left", 1.0, 0.05), ("right", 1.01, 0.30), ("late", 9.0, 0.01))  # day, yellow share


@pytest.fixture(name="path")
def logbook_path(book: Logbook) -> Path:
    """A fox, seen from two sides on day 1 and once on day 9; water on days 0 and 6."""
    enter_tub(book, Tub(number=12))
    soak(book, "fox", 12)
    for filled in (0, 6):
        change_water(book, [12], day(filled), Filling(recipe=Recipe.SOAP))
    with book.entry("photos") as entry:
        for name, at, share in SIDES:
            bone = replace(make_bone(), yellow_patch_share=share)
            reading = replace(make_reading(name, at=day(at), haze_per_m=None), bone=bone)
            insert_reading(entry, reading, 12, "fox")
    return book.path


def run(path: Path, *arguments: object) -> str:
    result = CliRunner().invoke(app, ["looks", "fox", "--logbook", str(path), *map(str, arguments)])
    assert result.exit_code == 0, result.output
    return result.stdout


def test_the_side_with_most_yellow_is_the_worst(path: Path) -> None:
    then = ("--now", day(2).isoformat())
    [look] = json.loads(run(path, "--json", *then))["looks"]
    assert [side["worst"] for side in look["sides"]] == [False, True]
    [line] = run(path, *then).splitlines()
    assert f"YI {look['yi_e313']:.1f} ± {look['yi_std']:.1f}" in line
    assert "2 sides, the worst right.jpg" in line
    assert len(run(path).splitlines()) == 2


def test_the_owners_page_tells_what_was_known_then(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown: list[owner.OwnersPage] = []

    def keep(page: owner.OwnersPage) -> str:
        shown.append(page)
        return "a page"

    monkeypatch.setattr(owner, "owners_page", keep)
    patches = data_folder("sample_images") / "sheet_measured.cgats"
    out = ("--page", tmp_path / "fox.html")
    run(path, *out)
    run(path, *out, "--now", day(2).isoformat(), "--patches", patches)
    whole, early = shown
    assert [one.at for one in whole.looks] == [day(1), day(9)]
    assert [one.at for one in early.looks] == [day(1)]
    assert [step.until for step in whole.steps] == [None, day(6)]
    assert [step.until for step in early.steps] == [None, None]
    assert (whole.absolute, early.absolute) == (False, True)
