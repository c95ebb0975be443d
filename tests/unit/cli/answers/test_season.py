from __future__ import annotations

import json
import shutil
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest
import typer
from PIL import Image
from typer.testing import CliRunner

from greasecheck.cli.answers import season, today
from greasecheck.cli.app import CommandGroup
from greasecheck.errors import ForecastError
from greasecheck.garage.season.page import newest_picture
from greasecheck.garage.series import tub_history
from greasecheck.logbook.readings.readings import enter_by_hand, insert_reading
from greasecheck.logbook.records import FollowUp, HandReading, Skull, SkullEvent, Tub
from greasecheck.logbook.skulls.skulls import enter_follow_up, enter_skull
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub
from greasecheck.model import BoneState, Recipe
from greasecheck.stages import EventKind
from tests.logbook_samples import day, make_reading
from tests.skull_log import happen

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

    from typer.testing import Result

app = typer.Typer(cls=CommandGroup)
season.register(app)
today.register(app)

DAYS = 18
NOW = f"--now {day(DAYS).isoformat()}"
NAMES = {11: "fox <script>alert(1)</script>", 12: "vixen", 13: "old fox", 14: "pale fox"}


@pytest.fixture(scope="module")
def made_season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two soaking foxes, two that are whitened, an empty tub, and one that makes no sense."""
    path = tmp_path_factory.mktemp("made") / "season.logbook"
    with Logbook(path, create=True) as book:
        for tub, name in NAMES.items():
            soak(book, tub, name, Recipe.AMMONIA if tub % 2 else Recipe.SOAP)
        for tub in (13, 14):
            happen(book, NAMES[tub], EventKind.DEGREASED, day(14))
            happen(book, NAMES[tub], EventKind.WHITENED, day(15))
        enter_follow_up(book, FollowUp(skull=NAMES[13], seen_at=day(17), yellowed=True))
        enter_tub(book, Tub(number=15))
        with book.entry("a photo") as entry:
            insert_reading(entry, make_reading("seen", at=day(DAYS - 0.5), tub=12), 12, None)
    return path


def soak(book: Logbook, tub: int, name: str, recipe: Recipe) -> None:
    enter_tub(book, Tub(number=tub))
    enter_skull(
        book,
        Skull(name=name, species="fox", owner="Ida"),
        SkullEvent(skull=name, happened_at=day(0), kind=EventKind.ENTERED, tub=tub),
    )
    for number in range(14):
        at = day(number)
        if number % 3 == 0:
            change_water(book, [tub], at, Filling(recipe=recipe, temperature_c=40.0))
        reading = HandReading(
            tub=tub,
            taken_at=at + timedelta(hours=12),
            attenuation_per_m=2.0 + 5.0 * (number % 3 + 0.5) * 0.95**number,
            attenuation_std_per_m=0.3,
            bone_yi_e313=40.0 - number,
            bone_yi_std=0.6,
            bone_state=BoneState.BLOTTED,
        )
        enter_by_hand(book, reading)


@pytest.fixture
def book_path(made_season: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "season.logbook"
    shutil.copy(made_season, path)
    monkeypatch.setenv("GREASECHECK_LOGBOOK", str(path))
    monkeypatch.chdir(tmp_path)
    return path


def call(line: str) -> Result:
    return CliRunner().invoke(app, line.split(), catch_exceptions=False)


def run(line: str) -> str:
    result = call(line)
    assert result.exit_code == 0, result.output
    return result.stdout


def answer(line: str) -> dict[str, Any]:
    body: dict[str, Any] = json.loads(run(f"{line} --json"))
    assert body["schema"] == 1
    return body


@pytest.mark.usefixtures("book_path")
def test_the_page_tells_of_all_tubs_and_skulls(tmp_path: Path) -> None:
    found = tmp_path / "found"
    found.mkdir()
    Image.new("RGB", (1400, 900), (90, 80, 70)).save(found / "seen.jpg.overlay.jpg")
    told = answer(f"season page.html --overlays found {NOW}")
    assert told["file"] == "page.html"
    assert told["tubs"] == 5
    assert told["tasks"] >= 3
    page = (tmp_path / "page.html").read_text(encoding="utf-8")
    assert "fox &lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "<script" not in page
    assert "data:image/jpeg" in page
    for words in ("pale fox: ", "Day to promise", "ammonia", "haze-12-", "clear-11-"):
        assert words in page
    assert "old fox: " not in page.split('id="risk"')[1]  # it has yellowed: no risk any more


@pytest.mark.usefixtures("book_path")
def test_charts_of_one_tub_and_of_the_season(tmp_path: Path) -> None:
    drawn = answer(f"season --charts out --tub 12 {NOW}")["files"]
    assert [name.rsplit("/", 1)[-1] for name in drawn] == [
        "haze-12.svg",
        "clear-12.svg",
        "bone-12.svg",
    ]
    run(f"season --charts out --only tubs --only recipes --only risk --as png {NOW}")
    assert {path.name for path in (tmp_path / "out").glob("*.png")} >= {"tubs.png", "risk.png"}
    with Image.open(tmp_path / "out" / "tubs.png") as picture:
        assert picture.width == 1000


@pytest.mark.usefixtures("book_path")
def test_one_tub_that_makes_no_sense_spoils_no_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse_one(book: Logbook, number: int, now: datetime) -> object:
        if number == 11:
            raise ForecastError("a bath of 400 degrees C cannot be", hint="correct it")
        return tub_history(book, number, now)

    monkeypatch.setattr("greasecheck.garage.soaks.refresh.tub_history", refuse_one)
    monkeypatch.setattr("greasecheck.garage.soaks.kept.past_soaks", lambda *_: ())  # for speed
    run(f"season page.html {NOW}")
    page = (tmp_path / "page.html").read_text(encoding="utf-8")
    assert "a bath of 400 degrees" in page.split('id="tub-11"')[1].split('<details class="tub"')[0]
    assert "haze-12-" in page


def test_an_empty_logbook_gives_a_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "empty.logbook"
    with Logbook(path, create=True):
        monkeypatch.setenv("GREASECHECK_LOGBOOK", str(path))
    out = run(f"season {tmp_path}/page.html {NOW}")
    assert "open it in a browser" in out
    assert "No tub is entered" in (tmp_path / "page.html").read_text(encoding="utf-8")
    assert "0 charts" in run(f"season --charts {tmp_path}/out {NOW}")


@pytest.mark.usefixtures("book_path")
def test_a_tub_that_is_not_there_is_an_error() -> None:
    result = call(f"season --charts out --tub 99 {NOW}")
    assert result.exit_code == 1
    assert "there is no tub 99" in result.stderr


def test_without_a_logbook_it_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("GREASECHECK_LOGBOOK", str(tmp_path / "none.logbook"))
    assert call(f"season {tmp_path}/page.html").exit_code == 1
    assert not (tmp_path / "page.html").exists()


def test_a_picture_that_is_none_is_left_out(book_path: Path, tmp_path: Path) -> None:
    (tmp_path / "seen.jpg.overlay.jpg").write_text("no picture")
    with Logbook(book_path) as book:
        assert newest_picture(book, 12, tmp_path) is None
        assert newest_picture(book, 11, tmp_path) is None
        assert newest_picture(book, 12, None) is None
