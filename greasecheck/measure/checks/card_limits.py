"""The limits that a photo of bone beside a card is judged by.

`tests/benchmarks/bone_scenes.py` counts what becomes of rendered photos under them.
"""

from __future__ import annotations

from dataclasses import replace

from greasecheck.measure.bone.mask import SHADOW_SHARE
from greasecheck.measure.card.pattern import MOST_RUNS
from greasecheck.measure.checks.limits import Limit

CARD_SCALE = Limit(name="card_px_per_mm", doubtful=1.2, refused=0.8)
CARD_TILT = Limit(name="card_tilt_deg", doubtful=50.0, refused=62.0)
CLIPPED_BONE = Limit(name="clipped_share_of_bone", doubtful=0.08, refused=0.5)
BONE_LIGHT = Limit(name="bone_light_yi_std", doubtful=3.0, refused=12.0)
PAPER_HUES = replace(BONE_LIGHT, case="paper")
MOST_OF_IT = 0.5  # of that error's variance: what makes so much of it is its cause
# With a share of 0.15 the shaded side of clean bone (65 %) is as dark as grey cloth (10 %) in the
# open, and its outline is lost there, unless its hue tells it; at the double, light from one
# softened lamp is doubted.
HARD_LIGHT = Limit(name="light_in_shadow", doubtful=0.15, refused=0.03)
# The share of yellow patches is asked for within 5 points.
PATCH_SHARE = Limit(name="yellow_share_std", doubtful=0.05, refused=1.0)
# Where hue does not tell bone from cloth: of rendered bone 0.18 is so dark; where a second lamp
# lights the cloth around it and that is taken for bone, 0.3 to 0.7.
DARK_BONE = Limit(name="dark_share_of_bone", doubtful=0.26, refused=1.0)
BROWN = Limit(name="brown_share", doubtful=0.01, refused=1.0)
PATTERN = Limit(name="bright_runs_at_rim", doubtful=MOST_RUNS, refused=1e6)
# Bone lit by less than that share counts as a cavity or deep shadow; lit by more, it must be found.
UNEVEN_CLOTH = Limit(name="hidden_by_cloth", doubtful=SHADOW_SHARE, refused=1e6)
SKULLS = Limit(name="pieces_like_skulls", doubtful=1.0, refused=6.0)
