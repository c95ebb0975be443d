"""Every reason has its words, with its values in them."""

import pytest

from greasecheck.cli.shared.plain import plain
from greasecheck.model.reasons import CAUSES, Reason, ReasonCode
from greasecheck.words.reasons import LOOK_AT, NUMBERED, PLAIN, figures_of, reason_words

VALUES = {
    ReasonCode.LEACHING: ((6.2, 0.41), ["soaked in its water for 6 days", "41%"]),
    ReasonCode.CHEAPEST: ((1.0, 2.5, 3.0), ["every day", "2.50", "3.00"]),
    ReasonCode.TWICE_AS_OFTEN: (
        (1.55, 3.1, 1.2, 0.0, 4.0),
        ["every 1.6 days", "every 3.1 days", "1 day (0 to 4)"],
    ),
    ReasonCode.NO_HAZE: ((3.0,), ["every 3 days"]),
    ReasonCode.SOAKS_ON: ((4.0,), ["go on changing the water every 4 days"]),
    ReasonCode.SLOW: ((0.31,), ["31%"]),
    ReasonCode.GREASE_LEFT: ((0.999, 0.1, 0.05, 0.02, 0.08), ["over 99%", "5% (2% to 8%)"]),
    ReasonCode.MEASURED_COLD: ((12.3, 40.0), ["at 12 °C", "at 40 °C"]),
    ReasonCode.QUICKENED: ((2.54,), ["2.5 times"]),
    ReasonCode.EARLY: ((24.4, 30.0, 60.0), ["24 days", "30 to 60"]),
    ReasonCode.UNPROVED: ((14.0,), ["14 days"]),
    ReasonCode.UNBACKED: ((14.0,), ["14 days", "paled"]),
    ReasonCode.PATCHES: ((0.125,), ["12%"]),
    ReasonCode.FEW_LOOKS: ((2.0,), ["too few recent bone photos (2)"]),
    ReasonCode.PALING: ((-3.0, -4.0, -2.0), ["-3.0 a week (-4.0 to -2.0): still paling"]),
    ReasonCode.SETTLED: ((0.1, -0.2, 0.3), ["+0.1 a week (-0.2 to +0.3): settled"]),
    ReasonCode.SLOPE_UNSURE: ((-1.0, -2.0, 1.0), ["not sure enough"]),
}


def test_each_code_has_words_once() -> None:
    assert set(PLAIN) | set(NUMBERED) == set(ReasonCode)
    assert not set(PLAIN) & set(NUMBERED)
    assert set(LOOK_AT) == set(CAUSES)
    assert set(VALUES) == set(NUMBERED)


@pytest.mark.parametrize("code", VALUES)
def test_values_stand_in_the_words(code: ReasonCode) -> None:
    values, parts = VALUES[code]
    words = reason_words(Reason(code=code, values=values))
    assert all(part in words for part in parts), words


def test_a_reason_is_words_in_json() -> None:
    assert plain((Reason(code=ReasonCode.AS_EXPECTED),)) == [
        "the haze rises as expected of this tub"
    ]


def test_what_to_look_at_is_no_figure() -> None:
    slow = Reason(code=ReasonCode.SLOW, values=(0.3,))
    assert figures_of((slow, *(Reason(code=code) for code in CAUSES))) == (slow,)
