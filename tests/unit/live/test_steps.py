"""Which steps the first evening has for a way of measuring, and which are done."""

from __future__ import annotations

import pytest

from greasecheck.live.setup.steps import CARD, EYE, LADDER, STAND, Steps
from greasecheck.logbook.settings import Setting


@pytest.mark.parametrize(
    ("measured_by", "asked"),
    [
        (STAND, ["how", "print", "stand", "clear", "tubs", "tags", "prices"]),
        (LADDER, ["how", "print", "stand", "tubs", "prices"]),
        (CARD, ["how", "print", "stand", "tubs", "tags", "prices"]),
        (EYE, ["how", "tubs", "prices"]),
    ],
)
def test_the_setup_asks_for_what_a_way_of_measuring_needs(
    measured_by: str, asked: list[str]
) -> None:
    """A ladder bears its tag, an eye needs none; clear water is for the jar before a stand."""
    nothing = Steps(measured_by=measured_by)
    assert [name for name, done in nothing.done.items() if not done] == asked
    assert nothing.next_step == "how"


def test_tubs_without_water_are_no_filled_tubs() -> None:
    chosen = {Setting.MEASURED_BY: EYE}
    assert Steps(measured_by=EYE, chosen=chosen, tubs=(12,)).next_step == "tubs"
    assert Steps(measured_by=EYE, chosen=chosen, tubs=(12,), filled=1).next_step == "prices"
