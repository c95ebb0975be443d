"""The quick version of tests/benchmarks/decisions.py: one skull."""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks.decisions import Decision, decide, summary, table, yellows
from tests.synthetic.season import invent_season

QUICK_SEED = 4


@pytest.fixture(scope="module")
def decision() -> Decision:
    (tub,) = invent_season(QUICK_SEED, 1)
    return decide(tub)[-1]


def test_a_skull_is_called_done_near_its_true_day(decision: Decision) -> None:
    # Without two weeks' proof, not before the long end of the species' usual time, 60 days.
    assert -4 <= decision.late_days <= 40
    assert not yellows(decision.tub, decision.called_days)
    assert decision.water_days <= decision.called_days


def test_the_table_and_summary_tell_it(decision: Decision) -> None:
    heading, line = table([decision])
    assert "yellows later" in heading
    assert line.startswith("fox")
    assert summary([decision])[0].startswith("called done 1 of 1")


def test_a_skull_never_called_done_is_counted_as_such(decision: Decision) -> None:
    never = Decision(tub=decision.tub, sure=0.9, called_days=np.inf, water_days=np.inf)
    assert summary([never])[0].startswith("called done 0 of 1; too early 0")
    assert not yellows(never.tub, never.called_days)
