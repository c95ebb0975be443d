"""The limits that a photo of bone beside a card is judged by, each failure with what to do.

`tests/benchmarks/bone_scenes.py` tells what becomes of rendered photos under them.
"""

from __future__ import annotations

from greasecheck.measure.checks.limits import Limit

CARD_SCALE = Limit(
    name="card_px_per_mm",
    doubtful=1.2,
    refused=0.8,
    advice="the card is too small in the picture: go closer or use more pixels",
)
CARD_TILT = Limit(
    name="card_tilt_deg",
    doubtful=50.0,
    refused=62.0,
    advice="the camera looks at the card from the side: look down on it more squarely",
)
CLIPPED_BONE = Limit(
    name="clipped_share_of_bone",
    doubtful=0.08,
    refused=0.5,
    advice="parts of the bone are burnt out or black: change the exposure, soften the light",
)
BONE_LIGHT = Limit(
    name="bone_light_yi_std",
    doubtful=3.0,
    refused=12.0,
    advice="the light on the bone differs from that on the card: light both by one lamp alone, "
    "softly, and lay the card close by",
)
# With a share of 0.15 the shaded side of clean bone (65 %) is as dark as grey cloth (10 %) in the
# open, and its outline is lost there; at the double, light from one softened lamp is doubted.
HARD_LIGHT = Limit(
    name="light_in_shadow",
    doubtful=0.15,
    refused=0.03,
    advice="one hard lamp leaves a side of the bone in the dark: soften the light, or hold white "
    "paper opposite the lamp",
)
BROWN = Limit(
    name="brown_share",
    doubtful=0.01,
    refused=1.0,
    advice="a part as dark and brown as antler, horn or dried tissue was left out: look at the "
    "outline, take it in again if it is bone",
)
SKULLS = Limit(
    name="pieces_like_skulls",
    doubtful=1.0,
    refused=6.0,
    advice="there are two pieces as large as skulls: photograph one skull at a time, or leave the "
    "others out",
)
