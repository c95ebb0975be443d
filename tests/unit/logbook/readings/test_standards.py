from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from greasecheck.errors import LogbookError
from greasecheck.logbook.readings.standards import in_force, list_standards, put_in_force
from greasecheck.logbook.records import Standard, StandardKind
from greasecheck.logbook.undo import entries
from tests.logbook_samples import day

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook

CLEAR = StandardKind.CLEAR_WATER


def test_a_standard_is_in_force_until_the_next_of_its_kind(book: Logbook) -> None:
    first = Standard(kind=CLEAR, in_force_from=day(0), body='{"path_mm": 60}')
    second = Standard(kind=CLEAR, in_force_from=day(10), body='{"path_mm": 40}', note="new jar")
    other = Standard(kind=StandardKind.TURBIDITY, in_force_from=day(5), body="{}")
    for standard in (second, first, other):
        put_in_force(book, standard)
    assert in_force(book, CLEAR, day(-1)) is None
    assert in_force(book, CLEAR, day(9)) == first
    assert in_force(book, CLEAR, day(10)) == second
    assert list_standards(book) == (first, second, other)


def test_a_standard_of_the_same_moment_replaces_the_other(book: Logbook) -> None:
    for body in ("{}", '{"path_mm": 60}'):
        put_in_force(book, Standard(kind=CLEAR, in_force_from=day(0), body=body))
    assert [one.body for one in list_standards(book)] == ['{"path_mm": 60}']


def test_a_blank_standard_is_refused(book: Logbook) -> None:
    with pytest.raises(LogbookError, match="empty"):
        put_in_force(book, Standard(kind=CLEAR, in_force_from=day(0), body=""))


def test_its_entry_is_named_as_people_say_it(book: Logbook) -> None:
    put_in_force(book, Standard(kind=CLEAR, in_force_from=day(0), body="{}"))
    assert entries(book)[0].what == "clear water in force"
