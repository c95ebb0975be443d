"""The quick version of tests/benchmarks/degraded_photos.py: no good reading is wrong."""

from pathlib import Path

import numpy as np
import pytest

from greasecheck.model import Verdict
from greasecheck.words.photos.checks import check_words
from tests.benchmarks.degraded_photos import (
    QUICK_COUNT,
    Outcome,
    Spoiling,
    line,
    sound_truths,
    spoil_and_read,
    spoilt,
)
from tests.synthetic.degraded.kinds import KINDS
from tests.synthetic.degraded.picture import Truth, truths

BASE = "10_tub12_april.jpg"
# What nobody should believe at its worst. Not here: what a reader can undo at its worst (lamps of
# another hue, patches or markers covered, prints faded alike), what may miss the bars by chance
# (glare, drops, bubbles, wet spots, folds) and what does not touch the measured (bone moved).
GROSS = (
    "defocused", "shaken", "compressed", "downsized", "tone_mapped", "shadow_on_wet",
    "shadow_on_dry", "lamp_off", "mixed_light", "overexposed", "too_dark", "finger_on_sight",
    "other_depth", "narrow_jar", "jar_shifted", "foam", "hand_on_rest",
)  # fmt: skip


def base() -> Truth:
    return next(truth for truth in truths() if truth.file.name == BASE)


def test_every_photograph_is_sound_before_it_is_spoilt() -> None:
    assert sound_truths() == truths()


def test_no_good_reading_of_a_spoilt_photograph_is_wrong(tmp_path: Path) -> None:
    trials = list(spoilt(QUICK_COUNT, folder=tmp_path))
    wrong = [trial for trial in trials if trial.outcome is Outcome.GOOD_WRONG]
    assert not wrong, "\n".join(line(trial) for trial in wrong)
    good = [trial for trial in trials if trial.outcome is Outcome.GOOD_RIGHT]
    assert len(good) > QUICK_COUNT / 3  # nor by calling everything doubtful


@pytest.mark.parametrize("name", GROSS)
def test_what_is_grossly_spoilt_is_never_good(name: str, tmp_path: Path) -> None:
    kind = next(kind for kind in KINDS if kind.name == name)
    spoiling = Spoiling(kind=kind, truth=base(), severity=1.0)
    trial = spoil_and_read(0, spoiling, np.random.default_rng(3), tmp_path)
    assert trial.reading.verdict is not Verdict.GOOD, line(trial)
    assert any(check_words(check) for check in trial.reading.checks if not check.passed)
