"""The quick version of tests/benchmarks/quiet_water.py: one cat whose marrow opens late."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.benchmarks.quiet_water import line, watch
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
