"""The season in parts: whose risk stands first, and whose dates are withheld."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, Any, cast

import pytest

from greasecheck.garage.risk.cases import Standing
from greasecheck.garage.risk.risk import Lessons
from greasecheck.garage.season import parts
from greasecheck.model.reasons import ReasonCode
from greasecheck.predict.yellowing.records import FinishedSkull, Measured, Signs
from greasecheck.predict.yellowing.regression import learn_yellowing
from greasecheck.report.charts.data import TubEnd
from tests.unit.report import season_samples as samples

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook

BOOK = cast("Logbook", None)  # what is learned from it is given


def case(name: str, standing: Standing, patches: float) -> Any:  # noqa: ANN401 - a stand-in
    signs = Signs(yellow_patch_share=Measured(value=patches))
    return SimpleNamespace(known=FinishedSkull(name=name, signs=signs), standing=standing)


def test_the_skull_most_likely_to_yellow_stands_first_and_none_that_did(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """More of it in yellow patches is more risk; what has yellowed is no risk any more."""
    lessons = Lessons(
        cases=(
            case("clean", Standing.WHITENED, 0.0),
            case("patchy", Standing.WHITENED, 0.6),
            case("gone", Standing.YELLOWED, 0.9),
            case("speckled", Standing.WHITENED, 0.2),
        ),
        model=learn_yellowing([]),
        check=None,
        photos=(),
    )
    monkeypatch.setattr(parts, "grease_left", lambda *_, **__: {})
    monkeypatch.setattr(parts, "learn", lambda *_: lessons)
    found = parts.risk_parts(BOOK, [], {}, samples.NOW)
    assert [row.name for row in found.rows] == ["patchy", "speckled", "clean"]
    risks = [row.risk.probability for row in found.rows]
    assert risks == sorted(risks, reverse=True)
    assert found.by_name["patchy"] is found.rows[0].risk
    assert len(found.trust) == 1


def tub(number: int, advice: object) -> parts.TubParts:
    today = SimpleNamespace(tub=SimpleNamespace(number=number))
    return cast("parts.TubParts", SimpleNamespace(today=today, advice=advice))


def test_a_withheld_date_goes_with_its_reason_and_a_tub_without_advice_is_left_out() -> None:
    slow = SimpleNamespace(degreased=None, withheld=ReasonCode.SLOW)
    dated = samples.advice()
    assert dated.withheld is None
    assert parts.ends_by_row([tub(3, slow), tub(4, None), tub(12, dated)]) == {
        "tub 3": TubEnd(dates=None, withheld=ReasonCode.SLOW),
        "tub 12": TubEnd(dates=dated.degreased, withheld=None),
    }


def test_a_tub_in_which_nothing_degreases_has_no_charts() -> None:
    empty = parts.TubParts(today=samples.today(), bones=())
    assert parts.charts_of_tub(empty, samples.NOW) == ()
    told = parts.TubParts(
        today=samples.today(),
        bones=samples.bones(),
        history=samples.history(),
        advice=samples.advice(),
    )
    names = [chart.name for chart in parts.charts_of_tub(told, samples.NOW)]
    assert names == ["haze-12", "clear-12", "bone-12"]
