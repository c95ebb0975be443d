"""Dates of a forecast stand under their own names, and none where it is withheld."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, cast

import numpy as np
import pytest

from greasecheck.cli.answers.advice_json import advice_json
from greasecheck.cli.answers.forecast_json import forecast_json
from greasecheck.model.reasons import ReasonCode
from greasecheck.predict.forecast_records import ClearDates
from tests.unit.report import season_samples as samples

ADVICE = samples.advice()


def told(*, withheld: ReasonCode | None = None) -> dict[str, Any]:
    """Return the answer, and the odds of a day on which the skull is likely done."""
    assert ADVICE.degreased is not None
    middle = ADVICE.degreased.quantile(0.5)
    assert middle is not None
    advice = replace(ADVICE, skulls=(replace(ADVICE.skulls[0], withheld=withheld),))
    return forecast_json(12, advice, by=middle + timedelta(days=1), curve=False)


def dates_in(part: dict[str, Any]) -> list[object]:
    named = [part[name]["quantiles"] for name in ("degreased", "runs_clear") if name in part]
    return [one["at"] for dates in (part["clear_at_quantiles"], *named) for one in dates]


def test_a_skull_is_done_before_its_water_runs_clear() -> None:
    answer = told()
    done, clear = (answer[name]["probability"] for name in ("degreased_by", "clear_by"))
    assert done >= 0.5 > clear
    assert answer["degreased"]["quantiles"][3]["at"] < answer["runs_clear"]["quantiles"][3]["at"]
    assert answer["clear_at_quantiles"] == answer["runs_clear"]["quantiles"]


@pytest.mark.parametrize("withheld", [None, ReasonCode.SLOW])
def test_no_date_stands_where_it_is_withheld(withheld: ReasonCode | None) -> None:
    answer = told(withheld=withheld)
    for part in (answer, *answer["skulls"]):
        dates = dates_in(part)
        assert len(dates) >= 14
        assert any(date is not None for date in dates) is (withheld is None)
    odds = [answer[name]["probability"] for name in ("degreased_by", "clear_by")]
    assert (None in odds) is (withheld is not None)


def test_quantiles_stand_from_low_to_high_each_under_its_name() -> None:
    parts: dict[str, Any] = {
        "grease_left_share": (0.1, 0.2, 0.3),
        "left_when_clear_share": (0.01, 0.02, 0.03),
        "gain_now_per_m": (4.0, 5.0, 6.0),
    }
    advice = replace(ADVICE, forecast=replace(ADVICE.forecast, **parts))
    answer = forecast_json(12, advice, by=None, curve=False)
    for name, (low, middle, high) in parts.items():
        assert answer[name] == {"p10": low, "p50": middle, "p90": high}


def test_each_line_of_the_curve_stands_under_its_name() -> None:
    """Haze, its gain and what is left, told apart by their hundreds, tens and units."""
    curve = ADVICE.forecast.curve
    parts = (("", "_per_m", 100), ("gain_", "_per_m", 10), ("left_", "_share", 0))
    steps = (("low", 1.0), ("median", 5.0), ("high", 9.0))
    lines: dict[str, Any] = {
        f"{part}{step}{unit}": np.array([number + more])
        for part, unit, number in parts
        for step, more in steps
    }
    shown = replace(curve, times=curve.times[:1], **lines)
    advice = replace(ADVICE, forecast=replace(ADVICE.forecast, curve=shown))
    found = cast("dict[str, list[float]]", forecast_json(12, advice, by=None, curve=True)["curve"])
    assert [found[f"haze_p{share}_per_m"] for share in (10, 50, 90)] == [[101], [105], [109]]
    assert [found[f"gain_p{share}_per_m"] for share in (10, 50, 90)] == [[11], [15], [19]]
    assert [found[f"left_p{share}_share"] for share in (10, 50, 90)] == [[1], [5], [9]]


def test_advice_names_the_middle_and_the_sure_day_of_water_and_grease() -> None:
    origin = samples.NOW
    tenths = np.linspace(0.1, 1.0, 10)
    found = replace(
        ADVICE.forecast,
        dates=ClearDates(origin=origin, days=100 * tenths),
        degreased=ClearDates(origin=origin, days=10 * tenths),
    )
    answer = advice_json(12, replace(ADVICE, forecast=found), ())
    days = {"degreased_at": 5, "surely_degreased_at": 9, "clear_at": 50, "surely_clear_at": 90}
    for name, after in days.items():
        assert datetime.fromisoformat(str(answer[name])) == origin + timedelta(days=after)
