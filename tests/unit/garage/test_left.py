"""The grease left in a skull as its forecast tells it, with a standard error."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import pytest

from greasecheck.garage.risk.left import _left_now

if TYPE_CHECKING:
    from greasecheck.predict.advice.decisions import TubAdvice


def test_eight_in_ten_reach_1_28_standard_errors_either_way() -> None:
    skull = SimpleNamespace(name="fox", grease_left_share=(0.1, 0.3, 0.6))
    told = SimpleNamespace(forecast=SimpleNamespace(skulls=(skull,)))
    left = _left_now(cast("TubAdvice", told))["fox"]
    assert left.value == 0.3
    assert left.std == pytest.approx(0.25 / 1.28155, rel=1e-4)
