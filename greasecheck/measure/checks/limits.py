"""The limits that a photo is judged by, each failure with what to do.

None has a source: sound photos (`sample_images`, `tests/synthetic/water_renders`) keep them, and
`tests/benchmarks/degraded_photos.py` tells what becomes of spoilt ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

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
    advice : str
        What to do about it.
    """

    name: str
    doubtful: float
    refused: float
    advice: str

    def check(self, value: float) -> Check:
        """Judge a value against the limit."""
        hard, soft = not self._keeps(value, self.refused), not self._keeps(value, self.doubtful)
        return Check(
            name=self.name,
            value=value if isfinite(value) else None,
            limit=self.refused if hard else self.doubtful,
            passed=not soft,
            hard=hard,
            advice=self.advice if soft else "",
        )

    def _keeps(self, value: float, limit: float) -> bool:
        """Whether a value keeps a limit; what is not a number keeps none."""
        return value <= limit if self.refused >= self.doubtful else value >= limit


# The sheet in the picture

SCALE = Limit(
    name="sheet_px_per_mm",
    doubtful=2.5,
    refused=1.8,
    advice="the sheet is too small in the picture: go closer or use more pixels",
)
TILT = Limit(
    name="tilt_deg",
    doubtful=25.0,
    refused=38.0,
    advice="the camera looks at the sheet from the side: face it squarely",
)
PRINT_SCALE = Limit(
    name="tag_to_sheet_scale_error",
    doubtful=0.025,
    refused=0.05,
    advice="tag and sheet are printed at different scales: print both at 100 % and check the ruler",
)

# Exposure, light and colours of the sheet

EXPOSURE = Limit(
    name="paper_level",
    doubtful=0.12,
    refused=0.04,
    advice="the picture is too dark: add light or expose longer",
)
CLIPPING = Limit(
    name="clipped_share",
    doubtful=0.05,
    refused=0.30,
    advice="parts are burnt out or black: change the exposure, move the lamp to avoid glare",
)
GRADIENT = Limit(
    name="light_gradient_ratio",
    doubtful=2.5,
    refused=5.0,
    advice="the light is uneven over the sheet: move the lamp back or to the front",
)
SHADOWS = Limit(
    name="light_misfit",
    doubtful=0.05,
    refused=0.15,
    advice="a shadow, a fold or a wet spot lies on the sheet: move the lamp, flatten, dry it",
)
TWINS = Limit(
    name="twin_patches_apart",
    doubtful=0.05,
    refused=0.30,
    advice="patches printed twice differ from side to side: a fold, a shadow or a wet spot lies on "
    "one of them",
)
MIXED_LIGHT = Limit(
    name="hue_misfit",
    doubtful=0.035,
    refused=0.15,
    advice="lamps of different colours light the sheet: switch one off, shut out the daylight",
)
HUE_SLOPE = Limit(
    name="hue_slope",
    doubtful=0.10,
    refused=0.6,
    advice="the light is of one colour on the left and of another on the right: use one lamp",
)
PATCHES = Limit(
    name="patches_left_out",
    doubtful=4.0,
    refused=16.0,
    advice="patches are hidden, shaded or smudged: clear the view, move the lamp, clean the sheet",
)
# A phone in the hand leaves 2.0 to 3.6 (`tests.benchmarks.real_photos`); the stated error of the
# yellowness grows with it.
COLOUR = Limit(
    name="loo_delta_e00",
    doubtful=4.0,
    refused=9.0,
    advice="the colours do not fit the sheet: remove coloured light, print or clean the sheet anew",
)
# The bars, wet and dry

SHARPNESS = Limit(
    name="fine_bar_modulation",
    doubtful=0.90,
    refused=0.45,
    advice="the sheet is blurred: focus on it, hold the camera still, wipe the lens",
)
SIGHT_CLIPPING = Limit(
    name="sight_clipped_share",
    doubtful=0.02,
    refused=0.15,
    advice="the bars behind the jar are burnt out or black: remove the glare, change the exposure",
)
USED_CELLS = Limit(
    name="sight_used_share",
    doubtful=0.85,
    refused=0.55,
    advice="foam, bubbles or drops hide the bars: let it settle, wipe the jar, fill it to the line",
)
EVENNESS = Limit(
    name="sight_unevenness",
    doubtful=0.025,
    refused=0.05,
    advice="foam or bubbles stand before the bars: let them settle, or skim them off, and stir",
)
LOW_EVENNESS = Limit(  # of sheets with low bars, onto which the jar guides light in patches
    name="sight_unevenness",
    doubtful=0.05,
    refused=0.10,
    advice=EVENNESS.advice,
)
LOW_AGREEMENT = Limit(  # three channels, two widths and the veil together
    name="water_model_misfit_std",
    doubtful=8.5,
    refused=14.0,
    advice="bars, veil and colours tell of no one water: let foam settle, stir, wipe the jar, keep "
    "shadows off it",
)
BAR_AGREEMENT = Limit(
    name="fine_coarse_disagreement_std",
    doubtful=2.5,
    refused=5.0,
    advice="fine and coarse bars tell of different waters: let foam settle, stir, wipe the jar",
)

# Jar, light and sheet against those of the clear-water reference

JAR_PLACE = Limit(
    name="bar_displacement_mm",
    doubtful=1.2,
    refused=3.0,
    advice="the jar does not stand where it stood for the clear-water reference: put it square "
    "before the sight, or make a new reference",
)
JAR_DEPTH = Limit(
    name="jar_depth_error",
    doubtful=0.06,
    refused=0.25,
    advice="the water shifts the bars as in a jar of another depth: use the jar of the "
    "clear-water reference, or make a new one",
)
CLEARER_THAN_CLEAR = Limit(
    name="below_clear_water_std",
    doubtful=3.0,
    refused=6.0,
    advice="the water looks clearer than the reference: fill the jar, or make a new reference",
)
DRY_BARS = Limit(
    name="dry_bars_light_change",
    doubtful=0.05,
    refused=0.30,
    advice="the dry bars are lit otherwise than for the clear-water reference: keep shadows and "
    "fingers off them, or make a new reference",
)
DRY_BLACK = Limit(
    name="dry_black_change",
    doubtful=0.012,
    refused=0.10,
    advice="the black bars are not as black as for the clear-water reference: remove glare, "
    "switch off sharpening and HDR, add light",
)
DIM_JAR = Limit(
    name="shadow_on_jar",
    doubtful=0.33,
    refused=0.99,
    advice="the bars behind the jar are darker than milky or brown water makes them: keep shadows "
    "off the jar, wipe it",
)
BRIGHT_JAR = Limit(
    name="white_gain_by_water",
    doubtful=0.06,
    refused=0.40,
    advice="the bars behind the jar are brighter than behind clear water: remove glare and foam",
)
FROTH = Limit(
    name="bright_depth_of_bars",
    doubtful=0.25,
    refused=1.0,
    advice="the bars behind the jar are brighter than milky water makes them: let foam settle, "
    "wipe mist off the jar, remove glare",
)
LEAN = Limit(
    name="bar_contrast_lean",
    doubtful=0.03,
    refused=0.25,
    advice="the bars are clearer on one side than on the other: keep shadows and foam off them, "
    "stir the water",
)
NEW_SHADOWS = Limit(
    name="paper_light_change",
    doubtful=0.025,
    refused=0.12,
    advice="the sheet is lit or shaded otherwise than for the clear-water reference: remove "
    "shadows, flatten and dry the sheet, or make a new reference",
)
MOVED_LAMP = Limit(
    name="light_ratio_change",
    doubtful=0.12,
    refused=0.6,
    advice="the light falls on jar and dry bars otherwise than for the clear-water reference: put "
    "the lamp back, or make a new reference",
)
WORSE_COLOUR = Limit(
    name="loo_delta_e00_change",
    doubtful=0.7,
    refused=9.0,
    advice="the sheet's colours fit worse than in the clear-water reference: it has faded, or is "
    "wet, dirty or glaring",
)

WHITE_BALANCE = Limit(
    name="white_balance_change",
    doubtful=0.06,
    refused=1.0,
    advice="the white balance is not that of the clear-water reference: fix it in the camera, or "
    "make a new reference",
)

# Glass and camera, by the glass field and the contrast ladder

GLASS_CHANGE = Limit(
    name="glass_change",
    doubtful=0.025,
    refused=0.15,
    advice="the jar's glass is not as clear as for the clear-water reference: wipe the jar",
)
FAINT_GAIN = Limit(
    name="faint_contrast_gain",
    doubtful=0.07,
    refused=0.25,
    advice="the camera lifts or smooths faint contrast: switch off HDR, tone mapping, filters and "
    "night mode, or use a plain camera app",
)
FINE_LOSS = Limit(
    name="faint_fine_contrast_loss",
    doubtful=0.07,
    refused=0.5,
    advice="the camera smooths away fine faint detail: add light, switch off noise reduction",
)
DARK_LIFT = Limit(
    name="dark_areas_lift",
    doubtful=0.03,
    refused=0.20,
    advice="the camera lifts dark areas or darkens bright ones: switch off HDR, tone mapping and "
    "filters, or use a plain camera app",
)

# The bone

REDDISH = Limit(
    name="reddish_share_of_bone",
    doubtful=0.03,
    refused=1.0,
    advice="something as red as skin or blood lies on the rest: take hands away, wash the bone",
)

# The sample skulls have at most 1 square corner, a straight edge of 0.67 and pieces that fill 0.72
# of a rectangle; cards and strips of wood laid beside them, apart or touching, mostly 2 or more
# corners or a fullness of 0.96 (tests/synthetic/degraded/things.py).
FOREIGN = (
    "something straight-edged lies on the rest, such as a card or a strip of wood: take it away,"
    " or log the reading when it is bone all the same"
)
CORNERS = Limit(name="square_corners_of_bone", doubtful=1.0, refused=1e6, advice=FOREIGN)
STRAIGHT = Limit(name="straight_edge_of_bone", doubtful=0.85, refused=1e6, advice=FOREIGN)
FULLNESS = Limit(name="bone_piece_fills_rectangle", doubtful=0.9, refused=1e6, advice=FOREIGN)

# A card or strip that lies on the bone keeps its own edges, seen by its colour. Three square
# corners make a rectangle; two will do where it fills its smallest rectangle as FULLNESS asks.
LAID_ON = (
    "a card, a strip of wood or the like seems to lie on the bone: take it away,"
    " or log the reading when it is bone all the same"
)
COLOUR_CORNERS = Limit(
    name="square_corners_of_one_colour", doubtful=2.0, refused=1e6, advice=LAID_ON
)
COLOUR_FULLNESS = Limit(
    name="one_colour_fills_rectangle", doubtful=FULLNESS.doubtful, refused=1e6, advice=LAID_ON
)

# A photo that is to become the clear-water reference

WATER_SHIFT = Limit(
    name="bar_shift_by_water_mm",
    doubtful=0.35,
    refused=0.2,
    advice="the bars are not shifted as water shifts them: fill the jar to the line and put it "
    "before the sight",
)
CLEAR_CONTRAST = Limit(
    name="clear_contrast_ratio",
    doubtful=0.45,
    refused=0.35,
    advice="the water or the jar is not clear: use clean tap water, wipe the jar",
)
LAMP_HEIGHT = Limit(
    name="lamp_elevation_deg",
    doubtful=62.0,
    refused=68.0,
    advice="the lamp stands too high, so that the water's surface shades the bars: lower the lamp "
    "or bring it to the front, 20 to 60 degrees above the jar",
)
LAMP_SHADOW = Limit(
    name="light_under_surface",
    doubtful=0.66,
    refused=0.75,
    advice="no lamp's shadow lies under the water line: light the stand with one lamp before it, "
    "20 to 60 degrees above the jar, and shut out other light",
)
CLEAR_GLASS = Limit(
    name="glass_modulation",
    doubtful=0.93,
    refused=0.85,
    advice="smear, mist or the image of a lamp lies on the jar's glass: wipe the jar, then move "
    "the lamp higher or aside until the glass mirrors nothing",
)
