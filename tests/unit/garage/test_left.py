"""The grease left in a skull as its forecast tells it, with a standard error."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import pytest

from greasecheck.garage.risk.left import _left_now, grease_left
from greasecheck.garage.soaks.past import past_soaks
from greasecheck.logbook.records import Tub
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub
from greasecheck.model import Recipe
from greasecheck.stages import EventKind
from tests.logbook_samples import day
from tests.skull_log import happen, put_in

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.predict.advice.decisions import TubAdvice


def advice(low: float, middle: float, high: float) -> TubAdvice:
    skull = SimpleNamespace(name="fox", grease_left_share=(low, middle, high))
    return cast("TubAdvice", SimpleNamespace(forecast=SimpleNamespace(skulls=(skull,))))


def test_eight_in_ten_reach_1_28_standard_errors_either_way() -> None:
    left = _left_now(advice(0.1, 0.3, 0.6))["fox"]
    assert left.value == 0.3
    assert left.std == pytest.approx(0.25 / 1.28155, rel=1e-4)


def test_a_soak_that_ends_later_has_the_figure_of_its_tub_now(book: Logbook) -> None:
    enter_tub(book, Tub(number=1))
    change_water(book, [1], day(0), Filling(recipe=Recipe.SOAP))
    put_in(book, "fox", day(0), 1, species="fox")
    happen(book, "fox", EventKind.DEGREASED, day(30))
    now = day(20)
    spans = past_soaks(book, now)
    [left] = grease_left(book, spans, now, {1: advice(0.1, 0.3, 0.6)}).values()
    assert left.value == 0.3
