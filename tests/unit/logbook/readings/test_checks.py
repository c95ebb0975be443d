from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from greasecheck.errors import LogbookError
from greasecheck.logbook.csv.read import import_tables
from greasecheck.logbook.readings.checks import checks_of, pack_checks, unpack_checks
from greasecheck.logbook.readings.readings import insert_reading
from tests.logbook_samples import make_check, make_reading

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.logbook.store.book import Logbook

PASSED, FAILED = make_check(), make_check(passed=False, hard=True, note="straighten it")
NOT_FOUND = replace(FAILED, value=None)


def test_checks_come_out_as_they_went_in() -> None:
    checks = (PASSED, FAILED, NOT_FOUND)
    assert unpack_checks(pack_checks(checks)) == checks
    assert unpack_checks(pack_checks(())) == ()


def test_values_are_kept_to_six_digits() -> None:
    (one,) = unpack_checks(pack_checks([replace(PASSED, value=1 / 3)]))
    assert one.value == 0.333333


def test_a_check_without_a_finite_value_is_refused() -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        pack_checks([replace(PASSED, value=float("nan"))])


def test_readings_checked_alike_share_a_plan(book: Logbook) -> None:
    for name, checks in (("a", (PASSED,)), ("b", (NOT_FOUND, FAILED)), ("c", (FAILED, FAILED))):
        with book.entry("reading") as entry:
            insert_reading(entry, replace(make_reading(name), checks=checks), 12, None)
    ((plans,),) = book.rows("SELECT count(*) FROM check_plans")
    assert plans == 2
    assert checks_of(book, make_reading("b").photo_sha256) == (NOT_FOUND, FAILED)


@pytest.mark.parametrize("values", ["[1,2]", "7", ""])
def test_imported_checks_that_do_not_fit_are_told(
    book: Logbook, tmp_path: Path, values: str
) -> None:
    (tmp_path / "check_plans.csv").write_text('key,checks\np,"[[""tilt_deg"",20.0,0]]"\n')
    (tmp_path / "readings.csv").write_text(
        "key,tub,taken_at,bone_yi_e313,check_plan,check_values\n"
        f'k,12,2026-03-01T00:00Z,30,p,"{values}"\n'
    )
    import_tables(book, [tmp_path])
    with pytest.raises(LogbookError, match="do not fit their plan"):
        checks_of(book, "k")
