"""The limits that a ladder's picture is judged by, each failure with its one cause and the way out.

They were set on path-traced tubs of the design half and on pictures spoilt on purpose; what they
let pass is told by tests/benchmarks/ladder_accuracy.py. A limit twice as wide lets twice as strong
a fault pass as good.
"""

from __future__ import annotations

from greasecheck.measure.checks.limits import Limit

MARKERS = Limit(
    name="ladder_markers",
    doubtful=4.0,
    refused=3.0,
    advice="a marker of the ladder is hidden or cut off: clear the view of its wings",
)
MARKER_FIT = Limit(
    name="ladder_marker_misfit_px",
    doubtful=0.8,
    refused=2.5,
    advice="the ladder's wings are bent or the picture is distorted: flatten the plate",
)
STRIPE_SIZE = Limit(
    name="stripe_px",
    doubtful=4.0,
    refused=2.6,
    advice="the ladder is too small in the picture: go closer, or use more pixels",
)
STEEPEST = Limit(
    name="view_from_upright_deg",
    doubtful=17.0,
    refused=10.0,
    advice="seen too steeply from above: step back, 30 to 45 degrees from straight down are best",
)
FLATTEST = Limit(
    name="view_from_upright_deg_most",
    doubtful=60.0,
    refused=70.0,
    advice="seen too flat over the water: raise the camera, 30 to 45 degrees are best",
)
ASIDE = Limit(
    name="view_from_the_side_deg",
    doubtful=24.0,
    refused=50.0,
    advice="seen too much from the side: stand before the ladder; fewer tubs in one photo",
)
EXPOSURE = Limit(
    name="dry_white_light",
    doubtful=0.06,
    refused=0.02,
    advice="the picture is too dark: more light, from above the tub",
)
CLIPPING = Limit(
    name="clipped_share",
    doubtful=0.005,
    refused=0.08,
    advice="glare or overexposure: no lamp or window may mirror on the stripes; expose less",
)
SHARPNESS = Limit(
    name="dry_stripes_sharpness",
    doubtful=0.7,
    refused=0.4,
    advice="the picture is blurred: hold still, tap on the ladder to focus",
)
STEAM = Limit(
    name="dry_contrast",
    doubtful=0.85,
    refused=0.6,
    advice="steam, a wet or dirty lens, or light in the lens: wait until the air is clear",
)
VEIL = Limit(
    name="dry_veil",
    doubtful=0.06,
    refused=0.3,
    advice="steam, a wet or dirty lens, or light in the lens: wait until the air is clear",
)
STEP = Limit(
    name="contrast_step",
    doubtful=0.22,
    refused=0.9,
    advice="the contrast drops at one depth: the edge of a shadow, a bone or a cloth over it",
)
GREYS = Limit(
    name="grey_misfit",
    doubtful=0.2,
    refused=0.5,
    advice="the greys do not fit each other: shadow on the wings, or dirt; wipe the dry part",
)
WINGS = Limit(
    name="wing_light_ratio",
    doubtful=1.7,
    refused=4.0,
    advice="the two wings are lit unlike: a shadow or a lamp close by; move the light",
)
STRIPES_DRY = Limit(
    name="dry_stripes_mm",
    doubtful=6.0,
    refused=16.0,
    advice="the water has fallen below the stripes: top it up, or hang the ladder lower",
)
WAVES = Limit(
    name="marks_misfit_mm",
    doubtful=0.35,
    refused=1.2,
    advice="the water moves or the plate leans: wait until it is still, hang the plate upright",
)
BENT = Limit(
    name="bent_stripes_mm",
    doubtful=0.3,
    refused=1.2,
    advice="the stripes are bent: the water moves; wait until it is still",
)
LEAN = Limit(
    name="lean_deg",
    doubtful=6.0,
    refused=15.0,
    advice="the plate does not hang upright: put its weight on, free it from the wall",
)
UNEVEN = Limit(
    name="uneven_share",
    doubtful=0.03,
    refused=0.3,
    advice="something lies over the stripes: foam, a bone, a cloth or a bright reflection",
)
FIRST_BARS = Limit(
    name="first_bars_contrast",
    doubtful=0.9,
    refused=0.4,
    advice="the first wet bars are grey: wipe the ladder; skim fat or foam off the water",
)
DECAY_FIT = Limit(
    name="decay_misfit",
    doubtful=0.12,
    refused=0.5,
    advice="the contrast does not fade evenly with depth: the edge of a shadow, foam, or a bone "
    "before the stripes",
)
