"""The limits that a photo is judged by.

None has a source: sound photos (`sample_images`, `tests/synthetic/water_renders`) keep them, and
`tests/benchmarks/degraded_photos.py` counts what becomes of spoilt ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, isfinite

from greasecheck.model import Check


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A two-step limit: past `doubtful` the reading weighs less, past `refused` it is refused.

    It is a maximum where `refused` is the larger of the two, otherwise a minimum.

    Attributes
    ----------
    name : str
        What is limited, with its unit where it has one; the name of the check row.
    doubtful, refused : float
        The two steps, in that unit.
    case : str
        Distinguishes limits of one name whose failures have different causes.
    """

    name: str
    doubtful: float
    refused: float
    case: str = ""

    def check(self, value: float) -> Check:
        """Judge a value against the limit."""
        hard, soft = not self._keeps(value, self.refused), not self._keeps(value, self.doubtful)
        return Check(
            name=self.name,
            value=value if isfinite(value) else None,
            limit=self.refused if hard else self.doubtful,
            passed=not soft,
            hard=hard,
            note=self.case if soft else "",
        )

    def _keeps(self, value: float, limit: float) -> bool:
        """Whether a value keeps a limit; what is not a number keeps none."""
        return value <= limit if self.refused >= self.doubtful else value >= limit


# The sheet in the picture

SCALE = Limit(name="sheet_px_per_mm", doubtful=2.5, refused=1.8)
TILT = Limit(name="tilt_deg", doubtful=25.0, refused=38.0)
PRINT_SCALE = Limit(name="tag_to_sheet_scale_error", doubtful=0.025, refused=0.05)

# Exposure, light and colours of the sheet

EXPOSURE = Limit(name="paper_level", doubtful=0.12, refused=0.04)
CLIPPING = Limit(name="clipped_share", doubtful=0.05, refused=0.30)
GRADIENT = Limit(name="light_gradient_ratio", doubtful=2.5, refused=5.0)
# Of sheets with low bars: by inverse squares and cosines a lamp 640 mm away, 20 to 60 degrees high
# and up to 30 to a side, makes 3.1 where no wall sends its light back; of the lamps that constants
# are fitted to the nearest to a corner, 500 mm away, makes 3.4 (`benchmarks.jar_shadow --limits`).
LOW_GRADIENT = Limit(name="light_gradient_ratio", doubtful=3.5, refused=5.0)
SHADOWS = Limit(name="light_misfit", doubtful=0.05, refused=0.15)
TWINS = Limit(name="twin_patches_apart", doubtful=0.05, refused=0.30)
MIXED_LIGHT = Limit(name="hue_misfit", doubtful=0.035, refused=0.15)
HUE_SLOPE = Limit(name="hue_slope", doubtful=0.10, refused=0.6)
PATCHES = Limit(name="patches_left_out", doubtful=4.0, refused=16.0)
# A phone in the hand leaves 2.0 to 3.4 (`tests.benchmarks.real_photos`); the stated error of the
# yellowness grows with it.
COLOUR = Limit(name="loo_delta_e00", doubtful=4.0, refused=9.0)

# The bars, wet and dry

# In bands of 3 mm, each of which water moves or does not: one of them is doubted.
ABOVE_WATER = Limit(name="bars_above_water_mm", doubtful=1.5, refused=4.5)
SHARPNESS = Limit(name="fine_bar_modulation", doubtful=0.90, refused=0.45)
# Sharpness over what murk leaves. Light scattered forward keeps some of the fundamental and nothing
# of the edges: 2 mm bars fade by 0.87 of the true attenuation at least (Monte Carlo, `scatter.py`),
# so that edges fade by the power 1 / 0.87 of it. Blur takes 9 times as much of the third harmonic's
# logarithm as of the fundamental's, 8 times as much of their ratio's. It is doubted where it takes
# as much contrast as a jar set down anew (`transmittance.JAR_ERROR`), and refused where it looks
# like murk of 2.5 per metre.
EDGES_PER_CONTRAST = 8.0
BLUR_DOUBTED, BLUR_REFUSED = 0.004, 0.15  # optical depths at the fundamental
EDGES = Limit(
    name="fine_edges_behind_jar",
    doubtful=exp(-EDGES_PER_CONTRAST * BLUR_DOUBTED),
    refused=exp(-EDGES_PER_CONTRAST * BLUR_REFUSED),
)
EDGES_FADE = 1 / 0.87 - 1
# Nothing before the bars sharpens their edges but that water magnifies them: the picture's own blur
# takes the less, the depth by which it dims the dry bars at most (`SHARPNESS`) over the square of
# 1.08, a jar of 120 mm seen from 400 mm.
SHARPENED = Limit(
    name="fine_edges_over_dry",
    doubtful=SHARPNESS.doubtful ** (-EDGES_PER_CONTRAST * (1 - 1.08**-2)),
    refused=1e6,
)
# Missing in one spot: 1 % of the contrast looks like murk of 0.17 per metre in 60 mm of water.
HOLE = Limit(name="bar_contrast_hole", doubtful=0.01, refused=0.6)
# Contrast is that of a bar less half of what either neighbour has. Drops of 1 mm before a share s
# of cells of 3 mm2 scatter it by the root of 3/8 s 0.79 / 3 of itself, by so much where they hide
# 1.25 %, which looks like murk of 0.21 per metre. That share was chosen on drawn dew in lamps that
# constants are fitted to; their sound photos leave 0.032 at most.
GRAIN = Limit(name="bar_contrast_grain", doubtful=0.035, refused=1e6)
# A bar has two edges and loses twice as much colour. Of fat in water green light is attenuated up
# to 1.43 times as much as red (the root of 2.05; Michels et al. 2008, doi 10.1364/OE.16.005907):
# 0.16 of that is lost to red, which then reads 7 % too murky, as much as is stated.
SMEAR = Limit(name="colour_lost_at_edges", doubtful=0.08, refused=1e6)
SIGHT_CLIPPING = Limit(name="sight_clipped_share", doubtful=0.02, refused=0.15)
USED_CELLS = Limit(name="sight_used_share", doubtful=0.85, refused=0.55)
EVENNESS = Limit(name="sight_unevenness", doubtful=0.025, refused=0.05)
# Of sheets with low bars, onto which the jar guides light in patches.
LOW_EVENNESS = Limit(name="sight_unevenness", doubtful=0.05, refused=0.10)
# Three channels, two widths and the veil together.
LOW_AGREEMENT = Limit(name="water_model_misfit_std", doubtful=8.5, refused=14.0)
BAR_AGREEMENT = Limit(name="fine_coarse_disagreement_std", doubtful=2.5, refused=5.0)

# Jar, light and sheet against those of the clear-water reference

JAR_PLACE = Limit(name="bar_displacement_mm", doubtful=1.2, refused=3.0)
JAR_DEPTH = Limit(name="jar_depth_error", doubtful=0.06, refused=0.25)
CLEARER_THAN_CLEAR = Limit(name="below_clear_water_std", doubtful=3.0, refused=6.0)
DRY_BARS = Limit(name="dry_bars_light_change", doubtful=0.05, refused=0.30)
DRY_BLACK = Limit(name="dry_black_change", doubtful=0.012, refused=0.10)
DIM_JAR = Limit(name="shadow_on_jar", doubtful=0.33, refused=0.99)
BRIGHT_JAR = Limit(name="white_gain_by_water", doubtful=0.06, refused=0.40)
# Beyond what any milky water sends back; as much as of the dry bars.
FROTH = Limit(name="bright_depth_of_bars", doubtful=DRY_BARS.doubtful, refused=1.0)
LEAN = Limit(name="bar_contrast_lean", doubtful=0.03, refused=0.25)
# Of the waters that constants are fitted to, sheets of either version, none leaves more than 0.005.
STEP = Limit(name="bar_contrast_step", doubtful=0.02, refused=0.6)
NEW_SHADOWS = Limit(name="paper_light_change", doubtful=0.025, refused=0.12)
MOVED_LAMP = Limit(name="light_ratio_change", doubtful=0.12, refused=0.6)
# The lamps that constants are fitted to leave 0.04 at most, most of it the renders' own noise
# (`benchmarks.jar_shadow --limits`).
JAR_LIGHT = Limit(name="jar_light_change", doubtful=0.04, refused=0.30)
# Two standard errors are doubted as everywhere. The lamps that constants are fitted to leave 0.9.
BRIGHTENED = Limit(name="bars_brightened_std", doubtful=2.0, refused=8.0)
WORSE_COLOUR = Limit(name="loo_delta_e00_change", doubtful=0.7, refused=9.0)
WHITE_BALANCE = Limit(name="white_balance_change", doubtful=0.06, refused=1.0)
# Of fat in water the mean of the channels is attenuated 1.49 times as much as red (2.05 in blue,
# its root in green; Michels et al. 2008, doi 10.1364/OE.16.005907): channels taken away from their
# mean by 14 % read red 7 % too clear, as much as is stated.
SATURATION = Limit(name="saturation_change", doubtful=0.14, refused=1.0)

# Glass and camera, by the glass field and the contrast ladder

GLASS_CHANGE = Limit(name="glass_change", doubtful=0.025, refused=0.15)
BARE_CHANGE = Limit(name="glass_change", doubtful=0.025, refused=0.15, case="bare")
# A veil of 1 % of grey light over the fine bars looks like murk of 0.17 per metre, as a hole does.
# The lamps that constants are fitted to leave 0.003.
VEIL_EDGE = Limit(name="edge_of_veil", doubtful=0.005, refused=1e6)
FAINT_GAIN = Limit(name="faint_contrast_gain", doubtful=0.07, refused=0.25)
FINE_LOSS = Limit(name="faint_fine_contrast_loss", doubtful=0.07, refused=0.5)
DARK_LIFT = Limit(name="dark_areas_lift", doubtful=0.03, refused=0.20)
# The lamps that constants are fitted to leave 0.12 through a plain camera, and 0.26 in one photo of
# 133 (`benchmarks.jar_shadow --limits`); a camera that takes 55 % from surroundings shows 0.36 to
# 0.70 in three of them.
WIDE_LIFT = Limit(name="paper_lift_by_surroundings", doubtful=0.3, refused=1e6)

# The bone

REDDISH = Limit(name="reddish_share_of_bone", doubtful=0.03, refused=1.0)

# Beyond what is usual: the yellowness would be off by about 6.
REST_HUE = Limit(name="hue_of_rest", doubtful=0.05, refused=1e6)
# A bone takes light from the ground beside it and throws some on it. A wall 40 mm high fills 0.39
# of the sky of ground 9 mm off, (1 - cos atan(40 / 9)) / 2; of albedo 0.6, and lit as the ground
# is, it adds 0.23 on the lamp's side and shades the other: in the middle less than half of that.
REST_GAIN = Limit(name="light_on_rest", doubtful=0.12, refused=1e6)

# A perfect white has 0, and bone takes more blue light than red: what is bluer is lit otherwise
# than the chart, or is no bone. The least yellow part is judged: a lamp may light a part alone.
LEAST_YELLOW = Limit(name="bone_yi_least", doubtful=0.0, refused=-1e6)

# Of the share of yellow patches: two errors either way then span all shares there are, and the
# share tells nothing. Beside the card, where the bone alone is measured, less is doubted.
REST_PATCH_SHARE = Limit(name="yellow_share_std", doubtful=0.25, refused=1.0)

# The sample skulls have at most 1 square corner, a straight edge of 0.67 and pieces that fill 0.72
# of a rectangle; cards and strips of wood laid beside them, apart or touching, mostly 2 or more
# corners or a fullness of 0.96 (tests/synthetic/degraded/things.py).
CORNERS = Limit(name="square_corners_of_bone", doubtful=1.0, refused=1e6)
STRAIGHT = Limit(name="straight_edge_of_bone", doubtful=0.85, refused=1e6)
FULLNESS = Limit(name="bone_piece_fills_rectangle", doubtful=0.9, refused=1e6)
# What comes off a skull has hollows: halves of its lower jaw fill 0.65 to 0.8 of their hull, seen
# from any side. Stones, fruit, eggs and coins have none; of 150 samples, with their rims off by a
# quarter of a sample, ellipses fill 0.91 (`tests/unit/measure/bone/test_straight.py`).
ROUND = Limit(name="smaller_piece_fills_hull", doubtful=0.9, refused=1e6)

# A card or strip that lies on the bone keeps its own edges, seen by its colour. The sample photos,
# saved again at qualities of 80 to 98, with noise of one code, brighter, darker or shifted, show
# corners over 2 units of yellowness at most and no filled rectangle; things mostly over 4 and more.
COLOUR_CORNERS = Limit(name="square_corners_of_one_colour", doubtful=3.5, refused=1e6)
COLOUR_FULLNESS = Limit(name="one_colour_fills_rectangle", doubtful=1.5, refused=1e6)

# A photo that is to become the clear-water reference

WATER_SHIFT = Limit(name="bar_shift_by_water_mm", doubtful=0.35, refused=0.2)
CLEAR_CONTRAST = Limit(name="clear_contrast_ratio", doubtful=0.45, refused=0.35)
# Clear water adds no veil; the jar's glass mirrors, by Fresnel's equations at right angles and an
# index of 1.52, 4.3 % of a room as bright as the sheet at each face to the air and 0.4 % at each
# to the water: 0.094 in all. Path-traced clear jars have 0.01 to 0.06, bath water from about 1 to
# 2 per metre on more than the limit.
CLEAR_VEIL = Limit(name="veil_of_clear_water", doubtful=0.094, refused=1e6)
# Logarithm of the stated depth over that by the bars, which grows with the camera's
# distance. Focal lengths in EXIF are rounded, and lenses focused near are longer: 10 to 15 %; a
# camera in the hand stands half as far away as the stand's, or nearly twice as far.
JAR_PATH = Limit(name="path_by_bars", doubtful=0.2, refused=0.4)
JAR_PATH_GUESSED = Limit(name="path_by_bars", doubtful=0.45, refused=1e6)
# As the shadow that the jar's front edge throws tells it. A lamp 60 degrees high as seen from the
# jar's middle, 640 mm away, stands up to 64 over that edge, and 30 to a side its shadow reaches as
# far as that of one at 66 in front, 61 mm: the fine bars lie 66 mm and more under the fill line.
LAMP_HEIGHT = Limit(name="lamp_elevation_deg", doubtful=66.0, refused=68.0)
LAMP_SHADOW = Limit(name="light_under_surface", doubtful=0.66, refused=0.75)
CLEAR_GLASS = Limit(name="glass_modulation", doubtful=0.93, refused=0.85)
