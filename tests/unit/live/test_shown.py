"""The entry that was just made is shown with its slips, until it is taken back."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from greasecheck.live import shown
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.undo import take_back

if TYPE_CHECKING:
    from tests.unit.live.phones import Phone

SLIPS, DOUBLED = ("it was filled before it was there",), ("2:30 came twice",)


def made(phone: Phone, entry: int) -> tuple[tuple[str, ...], tuple[str, ...]] | None:
    with phone.app.test_request_context(f"/?entry={entry}"):
        found = shown.made_entry(phone.live)
    return None if found is None else (found.slips, found.doubled)


def test_what_was_taken_back_slips_no_more(phone: Phone, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shown, "entry_slips", lambda _, number: SLIPS if number == 3 else ())
    monkeypatch.setattr(shown, "doubled_hours", lambda _, number: DOUBLED if number == 3 else ())
    assert made(phone, 3) == (SLIPS, DOUBLED)
    assert made(phone, 2) == ((), ())
    assert made(phone, 99) is None
    with Logbook(phone.settings.logbook) as book:
        take_back(book, 4)
        take_back(book, 3)
    assert made(phone, 3) == ((), ())
