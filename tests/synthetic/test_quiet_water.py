"""The quick versions of two benchmarks: a cat whose marrow opens late, and exchanged skulls."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.benchmarks.quiet_water import line, watch
from tests.benchmarks.swapped_skulls import swap, table
from tests.synthetic.judging_tubs.quiet import Quiet

SEED = 2  # quiet water and a settled bone, still yellow, once passed for done with 85 % left


def test_a_skull_whose_marrow_is_closed_is_not_done_while_its_bone_is_yellow() -> None:
    outcome = watch(SEED, Quiet.LATE)
    assert np.isinf(outcome.called_days)
    assert outcome.was_proved
    assert "0 of 1 called done, 0 with over 15 % left; proof asked of 1" in line(
        Quiet.LATE, [outcome]
    )
    early = replace(outcome, called_days=46.0, left_share=0.85)
    assert "1 of 1 called done, 1 with over 15 % left" in line(Quiet.LATE, [early])


@pytest.mark.parametrize(("seed", "is_asked"), [(203, True), (206, False)])
def test_an_exchanged_skull_is_asked_about_where_it_brings_more_grease(
    seed: int, is_asked: bool
) -> None:
    found = swap(seed)
    assert (found.gain_ratio > 2.5) is is_asked
    assert found.was_asked == (is_asked,) * 3
    line = table([found])[2 if is_asked else 0]
    told = f"of 1 asked about {int(is_asked)} after 6 days, {int(is_asked)} after 10 days"
    assert told in line
