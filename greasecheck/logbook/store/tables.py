"""The tables of the logbook: the one description that storing, CSV and its documentation share."""

from __future__ import annotations

import math

from greasecheck.errors import LogbookError
from greasecheck.logbook.records import StandardKind, WeightClass
from greasecheck.logbook.store.columns import Column, Kind
from greasecheck.logbook.store.table import (
    Table,
    choice_column,
    json_column,
    name_column,
    number_column,
    share_column,
    text_column,
    time_column,
    whole_column,
)
from greasecheck.model import (
    BodyCondition,
    BoneState,
    Bound,
    ReadingKind,
    Recipe,
    TimeSource,
    Verdict,
)
from greasecheck.stages import EventKind

NOTE = text_column("note", "anything else")
POSITIVE = math.ulp(0.0)
LEAST_L = 0.1  # a tub holds more; less is a slip

TUBS = Table(
    name="tubs",
    meaning="the tubs",
    key=("number",),
    blank_until="checked_at",
    columns=(
        whole_column("number", "number of the tub, that of its tag", required=True),
        name_column("name", "what it is called; blank for a tub met on a photo and not yet named"),
        number_column("volume_l", "volume of bath it holds [L]", LEAST_L),
        time_column("started_at", "first day of use; earlier readings are doubtful"),
        time_column("checked_at", "when heater, soap and bones were last found well"),
        whole_column("merged_into", "tub that it turned out to be"),
        NOTE,
    ),
)

BATHS = Table(
    name="baths",
    meaning="the fillings of the tubs",
    key=("tub", "filled_at"),
    happened="filled_at",
    blank_until="dumped_at",
    columns=(
        whole_column("tub", "number of the tub", required=True),
        time_column("filled_at", "when it was filled", required=True),
        time_column(
            "dumped_at", "when it was dumped without a refill; blank when a refill ended it"
        ),
        choice_column("recipe", "what went in", Recipe, required=True),
        number_column("temperature_c", "temperature it is held at [degrees C]", 0.0, 100.0),
        share_column("carry_over_share", "share of the old bath that stayed in the tub"),
        text_column("why", "why the water was changed"),
        NOTE,
    ),
)

TEMPERATURES = Table(
    name="temperatures",
    meaning="bath temperatures found between water changes",
    key=("tub", "at"),
    happened="at",
    columns=(
        whole_column("tub", "number of the tub", required=True),
        time_column("at", "from when on, until the next one or the next change", required=True),
        number_column(
            "temperature_c", "temperature of the bath [degrees C]", 0.0, 100.0, required=True
        ),
    ),
)

TOP_UPS = Table(
    name="top_ups",
    meaning="fresh water poured in for what dried away, until the tub was full again",
    key=("tub", "at"),
    happened="at",
    columns=(
        whole_column("tub", "number of the tub", required=True),
        time_column("at", "when", required=True),
        number_column("litres", "how much was poured in [L]", POSITIVE, required=True),
    ),
)

SKULLS = Table(
    name="skulls",
    meaning="the skulls",
    key=("name",),
    columns=(
        name_column("name", "name or owner's label", required=True),
        name_column("species", "species, as in the species table"),
        choice_column("weight_class", "how massive it is", WeightClass),
        choice_column("condition", "how fat the animal was", BodyCondition),
        name_column("owner", "whom it belongs to"),
        text_column("merged_into", "skull that it turned out to be"),
        whole_column("tag", "number of its own tag", lowest=1),
        NOTE,
    ),
)

SKULL_EVENTS = Table(
    name="skull_events",
    meaning="what happened to the skulls",
    key=("skull", "happened_at", "kind"),
    happened="happened_at",
    columns=(
        name_column("skull", "name of the skull", required=True),
        time_column("happened_at", "when", required=True),
        choice_column("kind", "what happened", EventKind, required=True),
        whole_column("tub", "tub it went into"),
        number_column(
            "strength_percent", "strength of the whitening peroxide [% by mass]", 0.0, 100.0
        ),
        number_column("duration_h", "how long it was whitened [h]", 0.0),
        NOTE,
    ),
)

CHECK_PLANS = Table(
    name="check_plans",
    meaning="what was checked of photos, once for all readings checked alike",
    key=("key",),
    columns=(
        text_column("key", "start of the SHA-256 of the checks", required=True),
        json_column("checks", "list of [name, limit, hard]", required=True),
    ),
)

READINGS = Table(
    name="readings",
    meaning="the readings; refused photos are not among them",
    key=("key",),
    happened="taken_at",
    columns=(
        text_column(
            "key",
            "SHA-256 of the photo, after a colon the part of the photo where it has several"
            " readings; blank for a reading without a photo",
        ),
        whole_column("tub", "number of the tub", required=True),
        time_column("taken_at", "when the photo was taken or the reading made", required=True),
        choice_column("time_source", "where the time came from; blank without a photo", TimeSource),
        Column(
            name="verdict",
            kind=Kind.TEXT,
            meaning="how far to trust it",
            choices=(Verdict.GOOD, Verdict.DOUBTFUL),
            required=True,
            default=Verdict.GOOD,
        ),
        Column(
            name="wrong",
            kind=Kind.FLAG,
            meaning="marked wrong by a person and used for nothing",
            required=True,
            default=0,
        ),
        choice_column(
            "kind",
            "what was looked at; blank for jar, or bone where haze is blank",
            ReadingKind,
        ),
        name_column("skull", "the skull on the rest, when named"),
        text_column("photo_path", "file of the photo"),
        number_column("attenuation_per_m", "haze: beam attenuation, or its bound [1/m]"),
        number_column("attenuation_std_per_m", "standard error of the haze [1/m]", 0.0),
        choice_column("bound", "side of attenuation_per_m on which the true haze lies", Bound),
        number_column("attenuation_r_per_m", "beam attenuation in red [1/m]"),
        number_column("attenuation_g_per_m", "beam attenuation in green [1/m]"),
        number_column("attenuation_b_per_m", "beam attenuation in blue [1/m]"),
        number_column(
            "forward_scatter", "attenuation from coarse bars over that from fine ones [1]"
        ),
        number_column("tint_yi", "yellowness of white seen through the water [ASTM E313, D65/2]"),
        number_column("path_mm", "path through the water [mm]", POSITIVE),
        number_column(
            "dilution", "bath over bath in the jar by dilution, already applied [1]", 1.0
        ),
        number_column("decay_per_m", "decay of a ladder's contrast along the sight line [1/m]"),
        number_column("decay_std_per_m", "standard error of decay_per_m [1/m]", 0.0),
        number_column("level_mm", "height of the water above the ladder's lower end [mm]"),
        number_column("level_std_mm", "standard error of level_mm [mm]", 0.0),
        number_column("turbidity", "turbidity [turbidity_unit]"),
        number_column("turbidity_std", "standard error of the turbidity [turbidity_unit]", 0.0),
        name_column("turbidity_unit", "unit of the turbidity"),
        number_column("bone_yi_e313", "median yellowness index of the bone [ASTM E313, D65/2]"),
        number_column("bone_yi_std", "standard error of bone_yi_e313", 0.0),
        number_column("bone_yi_spread", "interquartile range of the yellowness over the bone", 0.0),
        number_column("bone_lab_l", "median CIELAB L* of the bone [D65/2]"),
        number_column("bone_lab_a", "median CIELAB a* of the bone [D65/2]"),
        number_column("bone_lab_b", "median CIELAB b* of the bone [D65/2]"),
        number_column("bone_whiteness_cie", "CIE whiteness of the bone [CIE 15, D65/2]"),
        number_column("bone_tint_cie", "CIE tint of the bone [CIE 15, D65/2]"),
        number_column(
            "bone_delta_e00_clean", "CIEDE2000 of the bone to the clean-bone target", 0.0
        ),
        share_column("bone_yellow_patch_share", "share of the bone's seen area in yellow patches"),
        number_column(
            "bone_yellow_share_std", "standard error of bone_yellow_patch_share [1]", 0.0
        ),
        number_column("bone_area_mm2", "seen area of the bone [mm2]", 0.0),
        choice_column("bone_state", "how wet the bone was", BoneState),
        json_column(
            "bone_left_out", "list of [reason, pieces, area in mm2] of what was no bone beside it"
        ),
        json_column(
            "drawn",
            "list of [stroke, 1 for pixels or 0 for mm, corners] drawn to correct what is bone",
        ),
        number_column("colour_loo_delta_e00", "mean leave-one-out CIEDE2000 of the patches", 0.0),
        Column(
            name="colour_absolute",
            kind=Kind.FLAG,
            meaning="whether the patches were measured (absolute) or nominal (card-relative)",
        ),
        whole_column("colour_order", "1 for a linear colour fit, 2 for root-polynomial terms"),
        share_column("colour_clipped_share", "share of sampled pixels at either end of the scale"),
        number_column(
            "colour_gradient_ratio", "brightest over darkest light on the sheet [1]", 0.0
        ),
        whole_column("sheet_version", "version of the sheet"),
        text_column("software_version", "version of greasecheck that measured it"),
        text_column("check_plan", "key of the checks that were made"),
        json_column("check_values", "list of what was found for each check, to 6 digits"),
        json_column("failed_checks", "list of [place in the plan, note] of the checks that failed"),
        text_column("fingerprint", "noise of the photo on the patches, to know copies by; base64"),
        NOTE,
    ),
)

CORRECTIONS = Table(
    name="corrections",
    meaning="corrections of readings; the reading holds the corrected value",
    key=("reading_key", "number"),
    columns=(
        text_column("reading_key", "key of the reading", required=True),
        whole_column(
            "number", "1 for a reading's first correction, and so on", required=True, lowest=1
        ),
        time_column("made_at", "when it was corrected", required=True),
        text_column("field", "column of readings that was corrected", required=True),
        text_column("before", "what stood there"),
        text_column("after", "what stands there now"),
        text_column("why", "why"),
    ),
)

ATTEMPTS = Table(
    name="attempts",
    meaning="photos that gave no reading",
    key=("photo_sha256",),
    happened="coalesce(taken_at, tried_at)",
    columns=(
        text_column(
            "photo_sha256",
            "SHA-256 of the photo, after a colon the part of it that was refused; path: and its"
            " path of a file that cannot be read",
            required=True,
        ),
        text_column("photo_path", "file of the photo", required=True),
        time_column("tried_at", "when it was tried", required=True),
        whole_column("tub", "number of the tub, when its tag was seen"),
        time_column("taken_at", "when the photo was taken, when known"),
        text_column("problem", "what is wrong", required=True),
        text_column("hint", "what to do", required=True),
        text_column("software_version", "version of greasecheck that tried it", required=True),
    ),
)

COPIES = Table(
    name="copies",
    meaning="photos that are copies of logged ones",
    key=("photo_sha256",),
    columns=(
        text_column("photo_sha256", "SHA-256 of the copy", required=True),
        text_column("photo_path", "file of the copy", required=True),
        text_column("original_sha256", "SHA-256 of the photo that was logged", required=True),
    ),
)

DENIALS = Table(
    name="denials",
    meaning="spans in which there was no water change, though the haze fell",
    key=("tub", "earliest", "latest"),
    happened="latest",
    columns=(
        whole_column("tub", "number of the tub", required=True),
        time_column("earliest", "start of the span", required=True),
        time_column("latest", "end of the span", required=True),
    ),
)

FOLLOW_UPS = Table(
    name="follow_ups",
    meaning="how finished skulls looked some weeks later",
    key=("skull", "seen_at"),
    happened="seen_at",
    columns=(
        name_column("skull", "name of the skull", required=True),
        time_column("seen_at", "when it was looked at", required=True),
        Column(name="yellowed", kind=Kind.FLAG, meaning="whether it had yellowed", required=True),
        number_column("yi_e313", "yellowness index then [ASTM E313, D65/2]"),
        share_column("yellow_patch_share", "share of its seen area in yellow patches then"),
        NOTE,
    ),
)

PROMISES = Table(
    name="promises",
    meaning="days that were promised to owners; the last one of a skull holds",
    key=("skull", "promised_at"),
    happened="promised_at",
    columns=(
        name_column("skull", "name of the skull", required=True),
        time_column("promised_at", "when it was promised", required=True),
        time_column("ready_by", "the day it was promised for", required=True),
        share_column("probability", "odds on the day of the promise that it is ready by then"),
        NOTE,
    ),
)

SETTINGS = Table(
    name="settings",
    meaning="how the garage is set up",
    key=("name",),
    columns=(
        name_column("name", "what is set", required=True),
        text_column("value", "what it is set to", required=True),
    ),
)

STANDARDS = Table(
    name="standards",
    meaning="references and calibrations, each in force until the next of its kind",
    key=("kind", "in_force_from"),
    happened="in_force_from",
    columns=(
        choice_column("kind", "what it is", StandardKind, required=True),
        time_column("in_force_from", "from when it is in force", required=True),
        json_column("body", "the text of its file", required=True),
        NOTE,
    ),
)

# Each table stands after those it refers to.
TABLES = (
    TUBS,
    BATHS,
    TEMPERATURES,
    TOP_UPS,
    SKULLS,
    SKULL_EVENTS,
    CHECK_PLANS,
    READINGS,
    CORRECTIONS,
    ATTEMPTS,
    COPIES,
    DENIALS,
    FOLLOW_UPS,
    STANDARDS,
    PROMISES,
    SETTINGS,
)
# The columns that name a row of another table, except for those of photos: readings, attempts.
NAMED_IN = {
    TUBS.name: (
        (BATHS, "tub"),
        (TEMPERATURES, "tub"),
        (TOP_UPS, "tub"),
        (SKULL_EVENTS, "tub"),
        (DENIALS, "tub"),
    ),
    SKULLS.name: ((SKULL_EVENTS, "skull"), (FOLLOW_UPS, "skull"), (PROMISES, "skull")),
}


def table_named(name: str) -> Table:
    """Return the table called `name`.

    Raises
    ------
    LogbookError
        When there is none.
    """
    for table in TABLES:
        if table.name == name:
            return table
    names = ", ".join(table.name for table in TABLES)
    raise LogbookError(f"the logbook has no table '{name}'", hint=f"its tables are: {names}")
