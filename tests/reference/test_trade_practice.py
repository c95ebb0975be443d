"""The habits of the trade that advice rests on; each is common practice, no source."""

from __future__ import annotations

import pytest

from greasecheck.predict.advice.table import advice_value


# whitening: peroxide of 12 to 13 % for 12 to 24 hours; resoaking after it: about two weeks;
# all common practice, no source
@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("peroxide_low_percent", 12.0),
        ("peroxide_high_percent", 13.0),
        ("whitening_low_hours", 12.0),
        ("whitening_high_hours", 24.0),
        ("resoak_days", 14.0),
    ],
)
def test_advice_keeps_to_the_habits_of_the_trade(name: str, value: float) -> None:
    assert advice_value(name) == value
