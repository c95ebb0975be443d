"""What of a bone beside the card counts as red as blood, and what only noise and JPEGs redden."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.card.cloth import find_cloth
from greasecheck.measure.card.look import _reddish_share
from greasecheck.measure.card.masks import shrunk
from greasecheck.measure.card.not_bone import find_not_bone
from greasecheck.measure.card.pieces import CLEAR, find_pieces, standing_out
from greasecheck.measure.checks.limits import REDDISH
from tests.unit.measure.card.test_card_paper import SKULL, oval, scene

if TYPE_CHECKING:
    from greasecheck.model import BoolArray

BONE = oval(SKULL, (80, 50), 20.0)
BLOOD = oval(SKULL, (16, 12), 0.0)
AS_BLOOD, TINTED = (1.12, 1.0, 0.9), (1.025, 1.0, 1.0)  # of X, Y, Z
NOISY_SHARE = 0.08


def reddish_share(where: BoolArray, colour: tuple[float, float, float]) -> float:
    seen = scene(np.zeros_like(BONE), BONE)
    seen.xyz[where] *= colour
    pieces = find_pieces(seen, standing_out(seen, find_cloth(seen), None))
    return _reddish_share(seen, pieces, find_not_bone(seen.xyz, pieces[0].mask))


def test_single_samples_are_noise() -> None:
    noise = np.random.default_rng(3).random(BONE.shape) < NOISY_SHARE
    assert reddish_share(BONE & noise, AS_BLOOD) < REDDISH.doubtful


def test_a_rim_that_a_jpeg_tints_is_not_red() -> None:
    rim = BONE & ~shrunk(BONE, CLEAR - 1)
    assert rim.sum() > 0.06 * BONE.sum()
    assert reddish_share(rim, TINTED) < REDDISH.doubtful


def test_blood_is_red_by_its_share() -> None:
    share = BLOOD.sum() / BONE.sum()
    assert REDDISH.doubtful < share <= reddish_share(BLOOD, AS_BLOOD) < 1.7 * share  # with its rim
