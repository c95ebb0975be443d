"""The entries on the page of a tub or a skull are all that wrote about it."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from greasecheck.live.entries.lines import entries_of_skull, entries_of_tub
from greasecheck.logbook.csv.read import import_tables
from greasecheck.logbook.records import Promise, Skull, Tub
from greasecheck.logbook.skulls.promises import enter_promise
from greasecheck.logbook.skulls.skulls import enter_skull
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.undo import newest_entry
from greasecheck.logbook.water.baths import enter_tub

if TYPE_CHECKING:
    from pathlib import Path

    from tests.unit.live.phones import Phone

NOW = datetime.now(UTC)


def test_a_promise_is_among_the_entries_of_its_skull_alone(tmp_path: Path) -> None:
    with Logbook(tmp_path / "season.greasecheck", create=True) as book:
        enter_tub(book, Tub(number=12))
        for name in ("fox 3", "mink 1"):
            enter_skull(book, Skull(name=name))
        ready_by = NOW + timedelta(days=90)
        enter_promise(book, Promise(skull="fox 3", promised_at=NOW, ready_by=ready_by))
        of_fox, of_mink = (entries_of_skull(book, name) for name in ("fox 3", "mink 1"))
        assert [one.what for one in of_fox] == ["Promise of skull fox 3", "Skull fox 3"]
        assert [one.what for one in of_mink] == ["Skull mink 1"]
        assert [one.what for one in entries_of_tub(book, 12)] == ["Tub 12"]


def test_a_long_import_is_counted_and_can_be_taken_back_before_its_lines(
    phone: Phone, tmp_path: Path
) -> None:
    days = "".join(f"14,2026-01-{day:02d}T18:00:00Z,soap\n" for day in range(2, 30))
    (tmp_path / "baths.csv").write_text(f"tub,filled_at,recipe\n{days}", encoding="utf-8")
    hazes = "".join(f"14,2026-01-{day:02d}T12:00:00Z,12.5,0.4\n" for day in range(2, 30))
    names = "tub,taken_at,attenuation_per_m,attenuation_std_per_m\n"
    (tmp_path / "readings.csv").write_text(names + hazes, encoding="utf-8")
    with Logbook(phone.settings.logbook) as book:
        import_tables(book, [tmp_path / "baths.csv", tmp_path / "readings.csv"])
        number = newest_entry(book)
    page = phone.get(f"/entries/{number}").text
    assert "28 water changes and 28 readings. The first of them:" in page
    before, after = page.split("Take it back</button>")
    assert before.count("filled ") == 5
    assert after.count("filled ") == 23
    assert after.count("haze 12.5") == 28
    assert "Correct one of them" in after
    assert "never deleted" not in page, "those of an import go with it"
    ids = re.findall(r' id="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    phone.post(f"/entries/{number}/undo")
    assert phone.count("readings") == 0
