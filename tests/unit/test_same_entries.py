"""Whatever the terminal can enter, the page can, and both write the same rows."""

from __future__ import annotations

import ast
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from typer.testing import CliRunner

import greasecheck
from greasecheck.cli.app import app
from greasecheck.logbook.csv.write import export_tables
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.tables import ATTEMPTS, CHECK_PLANS, COPIES, CORRECTIONS, TABLES
from tests.unit.live.phones import make_phone

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.unit.live.phones import Phone

PACKAGE = Path(greasecheck.__file__).parent
# Whole files and what no person enters: an import, an outline drawn by a program's user.
NOT_BY_HAND = {"accept", "import_tables", "log_photos", "restore", "undo"}
START = datetime.now().astimezone().replace(hour=9, minute=0, second=0, microsecond=0)


def writers() -> Iterator[str]:
    """Yield the public functions of the logbook that begin an entry."""
    for file in (PACKAGE / "logbook").rglob("*.py"):
        for node in ast.parse(file.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                calls = {
                    call.func.attr
                    for call in ast.walk(node)
                    if isinstance(call, ast.Call) and isinstance(call.func, ast.Attribute)
                }
                if "entry" in calls:
                    yield node.name


def called_in(layer: str) -> set[str]:
    """Return the names that a layer uses."""
    return {
        node.id if isinstance(node, ast.Name) else node.attr
        for file in (PACKAGE / layer).rglob("*.py")
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.Name | ast.Attribute)
    }


def test_the_lists_of_what_can_be_entered_are_the_same() -> None:
    entered = set(writers()) - NOT_BY_HAND
    assert {"change_water", "enter_event", "enter_follow_up", "enter_promise"} <= entered
    by_terminal, by_page = (entered & called_in(layer) for layer in ("cli", "live"))
    assert by_terminal - by_page == set()
    assert by_page - by_terminal == set()


def at(days: float) -> str:
    return f"{START - timedelta(days=days):%Y-%m-%dT%H:%M}"


def page_time(days: float) -> dict[str, str]:
    return {"when": "at", "at": at(days)}


# A command of the terminal, then an address of the page and its fields.
SEASON = (
    (["tub", "12", "--name", "door", "--volume", "60"],
     "/tubs", {"number": "12", "name": "door", "litres": "60"}),
    (["tub", "14", "--new"], "/tubs", {"number": "14"}),
    (["change", "12", "14", "--recipe", "soap", "--temperature", "42", "--at", at(40)],
     "/changes", {"tub": ["12", "14"], "recipe": "soap", "temperature": "42", **page_time(40)}),
    (["skull", "fox 3", "--species", "fox", "--owner", "Ada", "--tub", "12", "--at", at(40)],
     "/skulls", {"name": "fox 3", "species": "fox", "owner": "Ada", "tub": "12", **page_time(40)}),
    (["reading", "add", "12", "--last-bar", "50", "--at", at(39.5)],
     "/tubs/12/reading", {"last_bar": "50", **page_time(39.5)}),
    (["reading", "add", "12", "--haze", "14.2", "--std", "0.6", "--yellowness", "31",
      "--yellowness-std", "0.6", "--state", "dry", "--at", at(39)],
     "/tubs/12/reading", {"haze": "14.2", "std": "0.6", "yellowness": "31",
                          "yellowness_std": "0.6", "state": "dry", **page_time(39)}),
    (["tub", "12", "--temperature", "38.5", "--at", at(38)],
     "/tubs/12/temperature", {"temperature": "38,5", **page_time(38)}),
    (["tub", "12", "--topped-up", "3", "--at", at(37)],
     "/tubs/12/topped-up", {"litres": "3", **page_time(37)}),
    (["skull", "fox 3", "--condition", "fat"],
     "/skulls", {"name": "fox 3", "condition": "fat"}),
    (["change", "12", "--left", "0.1", "--at", at(36)],
     "/tubs/12/changed", {"left": "10", **page_time(36)}),
    (["skull", "fox 3", "moved", "--tub", "14", "--at", at(30)],
     "/skull/happened", {"skull": "fox 3", "kind": "moved", "tub": "14", **page_time(30)}),
    (["change", "12", "--empty", "--at", at(29)], "/tubs/12/emptied", page_time(29)),
    (["skull", "fox 3", "degreased", "--at", at(20)],
     "/skull/happened", {"skull": "fox 3", "kind": "degreased", **page_time(20)}),
    (["skull", "fox 3", "whitened", "--strength", "12", "--hours", "18", "--at", at(19)],
     "/skull/happened", {"skull": "fox 3", "kind": "whitened", "strength": "12", "hours": "18",
                         **page_time(19)}),
    (["skull", "fox 3", "resoaked", "--tub", "14", "--at", at(18)],
     "/skull/happened", {"skull": "fox 3", "kind": "resoaked", "tub": "14", **page_time(18)}),
    (["skull", "fox 3", "dried", "--at", at(4)],
     "/skull/happened", {"skull": "fox 3", "kind": "dried", **page_time(4)}),
    (["skull", "fox 3", "returned", "--at", at(3)],
     "/skull/happened", {"skull": "fox 3", "kind": "returned", **page_time(3)}),
    (["skull", "fox 3", "white", "--yellowness", "18", "--at", at(1)],
     "/skull/looked", {"skull": "fox 3", "seen": "white", "yellowness": "18", **page_time(1)}),
    (["change", "14", "--temperature", "40", "--at", at(41), "--instead-of", at(40)],
     "/tubs/14/bath", {"near": f"{(START - timedelta(days=40)).isoformat()}",
                       "temperature": "40", **page_time(41)}),
    (["skull", "fox 3", "--rename", "vixen"], "/skull/name", {"skull": "fox 3", "name": "vixen"}),
    (["tub", "14", "--renumber", "21"], "/tubs/14/number", {"number": "21"}),
    (["tub", "12", "--checked", at(2)], "/tubs/12/checked", page_time(2)),
    (["reading", "wrong", "12", "--why", "foam"], "/tubs/12/correction", {"what": "wrong",
                                                                          "why": "foam"}),
    (["setup", "--measured-by", "eye", "--change-price", "3", "--day-price", "2"],
     "/setup/choice", {"measured_by": "eye", "change_price": "3", "day_price": "2"}),
)  # fmt: skip


@pytest.fixture
def phone(tmp_path: Path) -> Phone:
    found = make_phone(tmp_path)
    Logbook(found.settings.logbook, create=True).close()
    return found


def test_the_same_season_at_the_terminal_and_on_the_page_ends_with_equal_exports(
    tmp_path: Path, phone: Phone
) -> None:
    typed = tmp_path / "typed.logbook"
    for words, address, fields in SEASON:
        result = CliRunner().invoke(app, [*words, "--logbook", str(typed)])
        assert result.exit_code == 0, result.output
        if address.endswith("/correction"):
            [(key,)] = phone.rows("SELECT key FROM readings WHERE kind = 'jar'")
            fields = {**fields, "key": key}  # noqa: PLW2901 - the page shows it with the reading
        answer = phone.post(address, dict(fields), token=phone.token("/photos"))
        assert answer.status_code == 303, answer.text
    assert exported(typed, tmp_path / "a") == exported(phone.settings.logbook, tmp_path / "b")


def exported(logbook: Path, folder: Path) -> dict[str, str]:
    """Return each table as CSV, except for the moment at which a correction was typed."""
    chosen = [one for one in TABLES if one not in (CORRECTIONS, ATTEMPTS, CHECK_PLANS, COPIES)]
    with Logbook(logbook) as book:
        files = export_tables(book, folder, chosen)
    return {file.stem: file.read_text(encoding="utf-8") for file in files}
