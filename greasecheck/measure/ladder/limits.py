"""The limits that a ladder's picture is judged by.

They were set on path-traced tubs of the design half and on pictures spoilt on purpose; what they
let pass is printed by tests/benchmarks/ladder_accuracy.py. A limit twice as wide lets twice as much
a fault pass as good.
"""

from __future__ import annotations

from greasecheck.measure.checks.limits import Limit

MARKERS = Limit(name="ladder_markers", doubtful=4.0, refused=3.0)
MARKER_FIT = Limit(name="ladder_marker_misfit_px", doubtful=0.8, refused=2.5)
# Of photos of the design (tests/synthetic/ladder_light/fit_colour.py) 8 of 19 with narrower stripes
# are not found or have no waterline, 2 of 18 from here to 4 px, none of 138 wider ones; errors over
# those stated are alike.
STRIPE_SIZE = Limit(name="stripe_px", doubtful=3.4, refused=2.6)
STEEPEST = Limit(name="view_from_upright_deg", doubtful=17.0, refused=10.0)
FLATTEST = Limit(name="view_from_upright_deg_most", doubtful=60.0, refused=70.0)
# Up to 45 degrees the laws hold as well as from the front (tests/synthetic/ladder_light/aside.py).
ASIDE = Limit(name="view_from_the_side_deg", doubtful=40.0, refused=50.0)
EXPOSURE = Limit(name="dry_white_light", doubtful=0.06, refused=0.02)
CLIPPING = Limit(name="clipped_share", case="ladder", doubtful=0.005, refused=0.08)
# A picture without colour has all of its pixels alike in R, G and B up to rounding, whatever it
# shows; a photo of grey water under white light, in which nothing has a colour, half of them.
COLOUR = Limit(name="colourless_share", doubtful=0.8, refused=0.95)
# Blur of colour that leaves so little of it to stripes of 3 mm takes about a sixth from those of
# 8 mm. Sound photos of the design leave 0.28 and more.
COLOUR_DETAIL = Limit(name="colour_detail", doubtful=0.2, refused=0.0)
SHARPNESS = Limit(name="dry_stripes_sharpness", doubtful=0.7, refused=0.4)
STEAM = Limit(name="dry_contrast", doubtful=0.85, refused=0.6)
VEIL = Limit(name="dry_veil", doubtful=0.06, refused=0.3)
# A code of an 8-bit photo is 0.035 of the light of printed black: this is two of them.
TONES = Limit(name="black_shift", doubtful=0.07, refused=1.5)
# Of sound photos of the design 96 in 100 stay within it.
STEP = Limit(name="contrast_step", doubtful=0.05, refused=0.75)
FIELDS = Limit(name="fields_step", doubtful=0.07, refused=1.0)
# Of sound photos of the design 98 in 100 stay within each of these.
FADING = Limit(name="faint_fading_ratio", doubtful=1.3, refused=1e6)
EDGES = Limit(name="strong_over_faint_edges", doubtful=1.05, refused=1e6)
GREYS = Limit(name="grey_misfit", doubtful=0.2, refused=0.5)
WINGS = Limit(name="wing_light_ratio", doubtful=1.7, refused=4.0)
STRIPES_DRY = Limit(name="dry_stripes_mm", doubtful=6.0, refused=16.0)
WAVES = Limit(name="marks_misfit_mm", doubtful=0.35, refused=1.2)
BENT = Limit(name="bent_stripes_mm", doubtful=0.3, refused=1.2)
# Water climbs a plate by 3.8 mm at most, the root of 2 capillary lengths (de Gennes, Brochard-Wyart
# and Quere 2004, Capillarity and Wetting Phenomena, chapter 2); a step is seen from 2 mm away.
SURFACE = Limit(name="surface_apart_mm", doubtful=1.8, refused=1e6)
# Stripes of 3 mm repeat every 6 mm and tell less than half a stripe; those of 8 mm tell the rest.
FIELDS_ASIDE = Limit(name="coarse_aside_mm", doubtful=1.5, refused=3.0)
LEAN = Limit(name="lean_deg", doubtful=6.0, refused=15.0)
UNEVEN = Limit(name="uneven_share", doubtful=0.03, refused=0.3)
FIRST_BARS = Limit(name="first_bars_contrast", doubtful=0.9, refused=0.4)
DECAY_FIT = Limit(name="decay_misfit", doubtful=0.12, refused=0.5)
