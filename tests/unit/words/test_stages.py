"""What is next for a skull."""

import pytest

from greasecheck.stages import Stage
from greasecheck.words.stages import short_step, step_words


@pytest.mark.parametrize("stage", Stage)
def test_each_stage_but_the_last_has_a_next_step(stage: Stage) -> None:
    assert bool(step_words(stage)) == (stage is not Stage.FOLLOWED_UP)
    assert short_step(stage)


def test_whitening_is_told_with_the_strength_of_the_trade() -> None:
    # peroxide of 12 to 13 % for 12 to 24 h: common practice, no source; 3 %: Faruk & Das 2023
    assert step_words(Stage.DEGREASED) == (
        "whiten it: peroxide of 3% for 24 to 48 h is the milder way; usual are 12 to 13%, "
        "12 to 24 h; "
        "goggles and gloves on, no acetone left on the bone"
    )


def test_a_soaking_skull_that_is_done_comes_out() -> None:
    assert step_words(Stage.SOAKING, done=True).startswith("take it out")
    assert step_words(Stage.SOAKING).startswith("soak until")
    assert step_words(Stage.DRIED, done=True) == step_words(Stage.DRIED)
