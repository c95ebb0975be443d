from __future__ import annotations

import pytest

from greasecheck.errors import LogbookError
from greasecheck.logbook.store.columns import Column, Kind
from greasecheck.logbook.store.tables import BATHS, READINGS, TABLES, TUBS, table_named


@pytest.mark.parametrize(
    ("kind", "cell", "problem"),
    [
        (Kind.WHOLE, "1.5", "not a whole number"),
        (Kind.WHOLE, "9" * 20, "too large"),
        (Kind.NUMBER, "1,5", "decimals after a point"),
        (Kind.NUMBER, "much", "not a number"),
        (Kind.NUMBER, "nan", "not a finite number"),
        (Kind.NUMBER, "inf", "not a finite number"),
        (Kind.TIME, "4 March", "not a time"),
        (Kind.TIME, "2026-03-04T18:05", "no zone"),
        (Kind.FLAG, "1", "neither yes nor no"),
        (Kind.JSON, "{", "not valid JSON"),
        (Kind.TEXT, "a\x00b", "cannot be printed"),
    ],
)
def test_a_cell_of_the_wrong_kind_is_told(kind: Kind, cell: str, problem: str) -> None:
    with pytest.raises(ValueError, match=problem):
        Column(name="x", kind=kind, meaning="x").parse(cell)


@pytest.mark.parametrize("text", ["=1+1", "+49 30", "-3 degrees", "@home", "'quoted'", "'t Hooft"])
def test_no_text_is_a_formula_for_a_spreadsheet_nor_changed_by_its_guard(text: str) -> None:
    """What begins as a formula is guarded by an apostrophe (OWASP, CSV injection)."""
    column = Column(name="x", kind=Kind.TEXT, meaning="x")
    cell = column.written(text)
    assert cell[0] not in "=+-@\t\r"
    assert column.parse(cell) == text
    typed_by_hand = "'t Hooft"
    assert column.parse(typed_by_hand) == typed_by_hand


def test_times_of_any_zone_become_utc() -> None:
    column = Column(name="x", kind=Kind.TIME, meaning="x")
    assert column.parse("2026-03-04T19:05:00+01:00") == "2026-03-04T18:05:00Z"


@pytest.mark.parametrize(
    ("lowest", "highest", "words"),
    [(0.0, 1.0, "not from 0 to 1"), (0.0, float("inf"), "less than 0")],
)
def test_a_number_below_its_limit_is_told(lowest: float, highest: float, words: str) -> None:
    column = Column(name="x", kind=Kind.NUMBER, meaning="x", lowest=lowest, highest=highest)
    with pytest.raises(ValueError, match=words):
        column.parse("-2")


def test_a_number_above_its_only_limit_is_told() -> None:
    column = Column(name="x", kind=Kind.NUMBER, meaning="x", highest=1.0)
    with pytest.raises(ValueError, match="more than 1"):
        column.parse("2")


def test_a_blank_is_the_default_or_missing() -> None:
    assert READINGS.column("wrong").parse("") == 0
    assert READINGS.column("note").parse("") is None
    with pytest.raises(ValueError, match="missing"):
        READINGS.column("tub").parse("")


def test_an_unknown_choice_lists_the_known_ones() -> None:
    with pytest.raises(ValueError, match=r"'bleach' is not one of: soap, soap\+ammonia"):
        BATHS.column("recipe").parse("bleach")


def test_a_value_that_does_not_fit_names_its_column() -> None:
    with pytest.raises(LogbookError, match=r"volume l: 0 is not from 0.1 to 1000000") as caught:
        TUBS.row({"number": 1, "volume_l": 0.0})
    assert "[L]" in caught.value.hint
    for blank in ("", " \u00a0", "\ufeff"):
        with pytest.raises(LogbookError, match="empty text"):
            TUBS.row({"number": 1, "name": blank})


def test_tables_are_found_by_name() -> None:
    assert [table_named(table.name) for table in TABLES] == list(TABLES)
    with pytest.raises(LogbookError, match="no table 'bones'"):
        table_named("bones")


def test_every_measured_number_states_its_unit_or_scale() -> None:
    untold = [
        column.name
        for table in TABLES
        for column in table.columns
        if column.kind is Kind.NUMBER and "[" not in column.meaning
    ]
    assert untold == [
        "bone_yi_std", "bone_yi_spread", "bone_delta_e00_clean", "colour_loo_delta_e00",
    ]  # fmt: skip
