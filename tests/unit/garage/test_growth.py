"""What concerns the present reads no more of the logbook after ten seasons than after two."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from functools import partial
from typing import TYPE_CHECKING

import pytest

from greasecheck.garage.cautions import used_before
from greasecheck.garage.series import skull_bones, tub_history
from greasecheck.garage.soaks.past import past_soaks
from greasecheck.logbook.changes import probable_changes
from greasecheck.logbook.csv.read import import_tables
from greasecheck.logbook.readings.readings import find_reading, newest_bone_photo
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.story import skull_story
from greasecheck.logbook.today import garage_today
from tests.benchmarks.logbook_scale import write_season

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

TUBS = range(10, 13)
DAYS = (200, 1400)
NOW = datetime.now(UTC)
PRESENT: dict[str, Callable[[Logbook], object]] = {
    "today": partial(garage_today, at=NOW),
    "history": partial(tub_history, tub=12, now=NOW),
    "bones": partial(skull_bones, tub=12, now=NOW),
    "newest photo": partial(newest_bone_photo, tub=12, skull="skull 12-0"),
    "an old skull's story": partial(skull_story, name="skull 12-0"),
    "newest reading": partial(find_reading, tub=12),
    "cautions": used_before,
}
WHOLE: dict[str, Callable[[Logbook], object]] = {
    "probable changes": partial(probable_changes, tub=12),
    "past soaks": partial(past_soaks, now=NOW),
}


@pytest.fixture(scope="module")
def books(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Logbook, Logbook]]:
    short, long = (filled_book(tmp_path_factory.mktemp("season"), days) for days in DAYS)
    with short, long:
        yield short, long


def filled_book(folder: Path, days: int) -> Logbook:
    tables = folder / "csv"
    tables.mkdir()
    write_season(tables, days, TUBS)
    book = Logbook(folder / "season.logbook", create=True)
    import_tables(book, [tables])
    return book


def rows_read(book: Logbook, ask: Callable[[Logbook], object], patch: pytest.MonkeyPatch) -> int:
    """How many rows a question takes out of the logbook."""
    rows, counts = book.rows, []

    def counted(self: Logbook, *query: object) -> object:
        found = rows(*query)  # type: ignore[arg-type]  # passed on as they came
        counts.append(len(found))
        return found

    with patch.context() as patched:
        patched.setattr(Logbook, "rows", counted)
        ask(book)
    return sum(counts)


def exponent(
    books: tuple[Logbook, Logbook], ask: Callable[[Logbook], object], patch: pytest.MonkeyPatch
) -> float:
    short, long = (rows_read(book, ask, patch) for book in books)
    return math.log(long / short) / math.log(DAYS[1] / DAYS[0])


@pytest.mark.parametrize("name", PRESENT)
def test_the_present_does_not_grow_with_history(
    name: str, books: tuple[Logbook, Logbook], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert exponent(books, PRESENT[name], monkeypatch) < 0.4


@pytest.mark.parametrize("name", WHOLE)
def test_the_whole_grows_in_proportion(
    name: str, books: tuple[Logbook, Logbook], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert 0.7 < exponent(books, WHOLE[name], monkeypatch) < 1.2
