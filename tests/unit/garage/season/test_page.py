"""Which picture, which order and which date of a skull the season's page shows."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from PIL import Image

from greasecheck.garage.milestones import SkullLife
from greasecheck.garage.season import page
from greasecheck.logbook.readings.readings import insert_reading
from greasecheck.model.reasons import ReasonCode
from greasecheck.predict.advice.stage import SkullStage
from greasecheck.stages import Stage
from greasecheck.words.reasons import no_date_words
from greasecheck.words.times import day_words
from tests.logbook_samples import day, make_reading

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

    from greasecheck.logbook.store.book import Logbook


def life(
    name: str,
    next_at: datetime | None,
    *,
    stage: Stage = Stage.SOAKING,
    withheld: ReasonCode | None = None,
) -> SkullLife:
    stands = SkullStage(stage=stage, since=day(0), done=False, next_at=next_at, promise_at=next_at)
    return SkullLife(name=name, owner=None, stage=stands, withheld=withheld)


def test_the_nearest_step_comes_first_and_what_is_finished_last() -> None:
    lives = [
        life("finished", None, stage=Stage.FOLLOWED_UP),
        life("unknown", None),
        life("later", day(9)),
        life("soon", day(2)),
    ]
    told = [one.name for one in sorted(lives, key=page._next_first)]
    assert told == ["soon", "later", "unknown", "finished"]


def test_a_withheld_date_is_promised_to_nobody() -> None:
    assert page._skull_row(life("fox", day(9)), "fox").promise == day_words(day(9))
    held = page._skull_row(life("fox", day(9), withheld=ReasonCode.SLOW), "fox")
    assert held.promise == no_date_words(ReasonCode.SLOW)


@pytest.mark.parametrize(("drawn", "shown_on"), [(("one", "two"), 1), (("one",), 0), ((), None)])
def test_the_newest_picture_that_lies_there_is_shown(
    book: Logbook, tmp_path: Path, drawn: tuple[str, ...], shown_on: int | None
) -> None:
    with book.entry("photos") as entry:
        for at, name in enumerate(("one", "two", "three")):
            insert_reading(entry, make_reading(name, at=day(at)), 12, None)
    for name in drawn:
        Image.new("RGB", (40, 30)).save(tmp_path / f"{name}.jpg.overlay.jpg")
    found = page.newest_picture(book, 12, tmp_path)
    if shown_on is None:
        assert found is None
    else:
        assert found is not None
        assert found.words.endswith(day_words(day(0) + timedelta(days=shown_on)))
    assert page.newest_picture(book, 12, None) is None
