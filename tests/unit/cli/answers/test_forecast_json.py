"""Dates of a forecast stand under their own names, and none where it is withheld."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from greasecheck.cli.answers.forecast_json import forecast_json
from greasecheck.model.reasons import ReasonCode
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
