"""The demo, run as a new user runs it."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

import pytest

from greasecheck.cli.setup.demo import open_in_browser
from greasecheck.garage.season.demo import LOGBOOK, MARK, NOW, PAGE, fresh_logbook
from greasecheck.logbook.readings.standards import list_standards
from greasecheck.logbook.records import Tub
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import enter_tub
from tests.browser import needs_chromium, opened
from tests.unit.cli.photos.test_read import run
from tests.unit.cli.test_readme import parses

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Browser
    from typer.testing import Result


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("demo") / "out"


@pytest.fixture(scope="module")
def shown(folder: Path) -> Result:
    result = run("demo", "--out", folder)
    assert result.exit_code == 0, result.output
    return result


def test_demo_reads_the_photos_and_draws_what_it_found(folder: Path, shown: Result) -> None:
    assert len(list(folder.glob("*.overlay.jpg"))) == 13
    assert "> 1" in shown.stdout
    assert "too murky" in shown.stdout
    table = shown.stdout.split("These photos")[0]
    assert max(map(len, table.splitlines())) <= 80


def test_demo_says_where_everything_is_and_what_to_try(folder: Path, shown: Result) -> None:
    assert f"{folder / PAGE}" in shown.stdout
    commands = [line for line in shown.stdout.splitlines() if line.startswith("  greasecheck ")]
    assert len(commands) == 5
    assert all(line.endswith(f"--logbook {folder / LOGBOOK}") for line in commands)
    assert all(parses(line.split(maxsplit=1)[1]) for line in commands)
    assert "simulated" in shown.stdout


def test_the_page_shows_all_tubs_says_what_is_invented_and_holds_the_photos(
    folder: Path, shown: Result
) -> None:
    assert shown.exit_code == 0
    page = (folder / PAGE).read_text(encoding="utf-8")
    assert page.count('<details class="tub" id="tub-') == 11
    assert "Invented" in page.split("<nav")[0]
    assert page.count("data:image/jpeg;base64,") == 4 + 3  # jars, and a ladder in three tubs
    assert "Take fox 1 out of tub 12: it is done." in page


@needs_chromium
def test_eleven_tubs_fill_eight_screens_of_a_phone_and_six_pages(
    browser: Browser, folder: Path, shown: Result
) -> None:
    assert shown.exit_code == 0
    with opened(browser, (folder / PAGE).as_uri(), 390, "light") as (page, _):
        printed = page.pdf(format="A4", prefer_css_page_size=True)
        assert len(re.findall(rb"/Type\s*/Page[^s]", printed)) <= 6
        page.evaluate("document.querySelectorAll('details.tub').forEach(tub => tub.open = true)")
        height = page.evaluate("document.documentElement.scrollHeight")
    assert height <= 8 * 844


def test_the_logbook_holds_photos_beside_simulated_rows(folder: Path, shown: Result) -> None:
    assert shown.exit_code == 0
    with Logbook(folder / LOGBOOK) as book:
        rows = book.rows(
            "SELECT photo_path IS NOT NULL, note, count(*) FROM readings GROUP BY 1, 2"
        )
        attempts = book.rows("SELECT count(*) FROM attempts")
    (photos, simulated) = sorted(rows, reverse=True)
    assert photos == (1, None, 12)
    assert simulated[:2] == (0, "simulated")
    assert simulated[2] > 500
    assert attempts == [(3,)]


def test_the_commands_that_it_names_run_on_its_logbook(folder: Path, shown: Result) -> None:
    assert shown.exit_code == 0
    result = run("today", "--now", NOW.isoformat(), "--logbook", folder / LOGBOOK)
    assert result.exit_code == 0, result.output
    assert "changed? yes or no" in result.stdout
    due, murky = (
        run("tub", tub, "--now", NOW.isoformat(), "--logbook", folder / LOGBOOK) for tub in (17, 16)
    )
    assert "Change the water of tub 17" in due.stdout
    assert "Dilute the sample of tub 16" in murky.stdout


def test_run_again_it_replaces_what_is_its_own_answers_as_json_and_opens_the_page(
    folder: Path, shown: Result, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert shown.exit_code == 0
    with Logbook(folder / LOGBOOK) as book:
        enter_tub(book, Tub(number=99))
    opened: list[str] = []

    def refuse_to_open(url: str) -> bool:
        opened.append(url)
        return False

    monkeypatch.setattr("webbrowser.open", refuse_to_open)
    result = run("demo", "--out", folder, "--json", "--open")
    assert result.exit_code == 0, result.output
    answer = json.loads(result.stdout)
    assert answer["schema"] == 1
    assert [answer[name] for name in ("page", "logbook", "overlays")] == [
        str(folder / PAGE),
        str(folder / LOGBOOK),
        str(folder),
    ]
    assert (answer["tubs"], answer["skulls"]) == (11, 21)
    assert answer["tasks"] > 8
    assert answer["simulated_rows"]["readings"] > 500
    verdicts = [reading["verdict"] for reading in answer["readings"]]
    assert (len(verdicts), verdicts.count("refused")) == (15, 3)
    assert all(one["colour"]["absolute"] for one in answer["readings"] if one["colour"])
    assert opened == [(folder / PAGE).resolve().as_uri()]
    assert "open" in result.stderr, "no browser could be started, which is said"
    with Logbook(folder / LOGBOOK) as book:
        assert book.rows("SELECT number FROM tubs WHERE number = 99") == []
    assert not list(folder.glob(".greasecheck-*"))


def test_a_browser_that_starts_is_not_talked_about(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("webbrowser.open", lambda url: url.startswith("file:"))
    open_in_browser(tmp_path / PAGE)
    assert capsys.readouterr() == ("", "")


def test_a_logbook_that_is_not_the_demos_is_refused_and_stays(tmp_path: Path) -> None:
    with Logbook(tmp_path / LOGBOOK, create=True) as book:
        enter_tub(book, Tub(number=3, name="mine"))
    result = run("demo", "--out", tmp_path)
    assert result.exit_code == 1
    assert "somebody's own" in result.stderr
    assert "--out" in result.stderr
    with Logbook(tmp_path / LOGBOOK) as book:
        assert book.rows("SELECT name FROM tubs") == [("mine",)]
    assert {path.name for path in tmp_path.iterdir()} == {LOGBOOK, f"{LOGBOOK}.last"}


@pytest.mark.parametrize("name", [LOGBOOK, PAGE])
def test_a_file_that_is_not_the_demos_is_refused_and_stays(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text("mine")
    result = run("demo", "--out", tmp_path)
    assert result.exit_code == 1
    assert "--out" in result.stderr
    assert (tmp_path / name).read_text() == "mine"
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_a_run_that_fails_leaves_the_old_logbook(folder: Path, shown: Result) -> None:
    assert shown.exit_code == 0
    before = (folder / LOGBOOK).read_bytes()

    def broken() -> None:
        with fresh_logbook(folder):
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        broken()
    assert (folder / LOGBOOK).read_bytes() == before
    assert not list(folder.glob(".greasecheck-*"))


def test_a_logbook_in_use_is_not_replaced(folder: Path, shown: Result) -> None:
    assert shown.exit_code == 0
    with Logbook(folder / LOGBOOK) as book:
        assert any(one.note == MARK for one in list_standards(book))
        result = run("demo", "--out", folder)
    assert result.exit_code == 1
    assert "in use" in result.stderr


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    result = run("demo", "--out", tmp_path / "file" / "demo")
    assert result.exit_code == 1
    assert "hint: " in result.stderr
