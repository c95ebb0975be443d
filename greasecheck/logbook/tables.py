"""The tables of the logbook: the one description that storing, CSV and its documentation share."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.logbook.columns import Column, Kind, Value
from greasecheck.logbook.records import EventKind, StandardKind, WeightClass
from greasecheck.model import BoneState, Bound, Recipe, TimeSource, Verdict

if TYPE_CHECKING:
    from collections.abc import Mapping
    from enum import StrEnum

Row = tuple[Value, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table.

    Attributes
    ----------
    name, meaning : str
        What it is called and holds.
    key : tuple of str
        The columns that tell rows apart.
    columns : tuple of Column
        The columns in order.
    names : tuple of str
        Their names.
    key_indices : tuple of int
        Where in a row the key's columns are.
    """

    name: str
    meaning: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]
    names: tuple[str, ...] = field(init=False)
    key_indices: tuple[int, ...] = field(init=False)

    def __post_init__(self) -> None:
        names = tuple(column.name for column in self.columns)
        object.__setattr__(self, "names", names)
        object.__setattr__(self, "key_indices", tuple(names.index(name) for name in self.key))

    @property
    def order(self) -> tuple[str, ...]:
        """Return the columns by which rows are sorted when written out."""
        return ("tub", "taken_at", "key") if self.name == "readings" else self.key

    def key_of(self, row: Row) -> Row:
        """Return the part of `row` that tells it apart."""
        return tuple(row[index] for index in self.key_indices)

    def row(self, values: Mapping[str, Value]) -> Row:
        """Return `values` in column order, checked; an absent one is the column's default.

        Raises
        ------
        LogbookError
            When a value is not allowed in its column.
        """
        return tuple(
            _checked(column, values.get(column.name, column.default)) for column in self.columns
        )

    def cell(self, name: str, value: Value) -> Value:
        """Return `value` if the column called `name` may hold it.

        Raises
        ------
        LogbookError
            When it may not.
        """
        return _checked(self.column(name), value)

    def column(self, name: str) -> Column:
        """Return the column called `name`."""
        return self.columns[self.names.index(name)]


def _checked(column: Column, value: Value) -> Value:
    try:
        return column.checked(value)
    except ValueError as error:
        raise LogbookError(
            f"{column.name.replace('_', ' ')}: {error}", hint=f"it means: {column.meaning}"
        ) from error


def _text(name: str, meaning: str, *, required: bool = False) -> Column:
    return Column(name=name, kind=Kind.TEXT, meaning=meaning, required=required)


def _choice(name: str, meaning: str, choices: type[StrEnum], *, required: bool = False) -> Column:
    return Column(
        name=name, kind=Kind.TEXT, meaning=meaning, choices=tuple(choices), required=required
    )


def _time(name: str, meaning: str, *, required: bool = False) -> Column:
    return Column(name=name, kind=Kind.TIME, meaning=meaning, required=required)


def _number(name: str, meaning: str, lowest: float = -1e6, highest: float = 1e6) -> Column:
    return Column(name=name, kind=Kind.NUMBER, meaning=meaning, lowest=lowest, highest=highest)


def _whole(name: str, meaning: str, *, required: bool = False, lowest: int = 0) -> Column:
    return Column(
        name=name, kind=Kind.WHOLE, meaning=meaning, required=required, lowest=lowest, highest=99999
    )


def _share(name: str, meaning: str) -> Column:
    return _number(name, f"{meaning} [0 to 1]", 0.0, 1.0)


def _json(name: str, meaning: str, *, required: bool = False) -> Column:
    return Column(name=name, kind=Kind.JSON, meaning=meaning, required=required)


NOTE = _text("note", "anything else")
POSITIVE = math.ulp(0.0)

TUBS = Table(
    name="tubs",
    meaning="the tubs",
    key=("number",),
    columns=(
        _whole("number", "number of the tub, that of its tag", required=True),
        _text("name", "what it is called; blank for a tub met on a photo and not yet named"),
        _number("volume_l", "volume of bath it holds [L]", POSITIVE),
        _time("started_at", "first day of use; earlier readings are doubtful"),
        NOTE,
    ),
)

BATHS = Table(
    name="baths",
    meaning="the fillings of the tubs",
    key=("tub", "filled_at"),
    columns=(
        _whole("tub", "number of the tub", required=True),
        _time("filled_at", "when it was filled", required=True),
        _time("dumped_at", "when it was dumped without a refill; blank when a refill ended it"),
        _choice("recipe", "what went in", Recipe, required=True),
        _number("temperature_c", "temperature it is held at [degrees C]", -20.0, 120.0),
        _share("carry_over_share", "share of the old bath that stayed in the tub"),
        _text("why", "why the water was changed"),
        NOTE,
    ),
)

SKULLS = Table(
    name="skulls",
    meaning="the skulls",
    key=("name",),
    columns=(
        _text("name", "name or owner's label", required=True),
        _text("species", "species, as in the species table"),
        _choice("weight_class", "how massive it is", WeightClass),
        _text("owner", "whom it belongs to"),
        NOTE,
    ),
)

SKULL_EVENTS = Table(
    name="skull_events",
    meaning="what happened to the skulls",
    key=("skull", "happened_at", "kind"),
    columns=(
        _text("skull", "name of the skull", required=True),
        _time("happened_at", "when", required=True),
        _choice("kind", "what happened", EventKind, required=True),
        _whole("tub", "tub it went into"),
        _number("strength_percent", "strength of the whitening peroxide [% by mass]", 0.0, 100.0),
        _number("duration_h", "how long it was whitened [h]", 0.0),
        NOTE,
    ),
)

CHECK_PLANS = Table(
    name="check_plans",
    meaning="what was checked of photos, once for all readings checked alike",
    key=("key",),
    columns=(
        _text("key", "start of the SHA-256 of the checks", required=True),
        _json("checks", "list of [name, limit, hard]", required=True),
    ),
)

READINGS = Table(
    name="readings",
    meaning="the readings; refused photos are not among them",
    key=("key",),
    columns=(
        _text("key", "SHA-256 of the photo; blank for a reading without one"),
        _whole("tub", "number of the tub", required=True),
        _time("taken_at", "when the photo was taken or the reading made", required=True),
        _choice("time_source", "where the time came from; blank without a photo", TimeSource),
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
        _text("skull", "the skull on the rest, when named"),
        _text("photo_path", "file of the photo"),
        _number("attenuation_per_m", "haze: beam attenuation, or its bound [1/m]"),
        _number("attenuation_std_per_m", "standard error of the haze [1/m]", 0.0),
        _choice("bound", "side of attenuation_per_m on which the true haze lies", Bound),
        _number("attenuation_r_per_m", "beam attenuation in red [1/m]"),
        _number("attenuation_g_per_m", "beam attenuation in green [1/m]"),
        _number("attenuation_b_per_m", "beam attenuation in blue [1/m]"),
        _number("forward_scatter", "attenuation from coarse bars over that from fine ones [1]"),
        _number("tint_yi", "yellowness of white seen through the water [ASTM E313, D65/2]"),
        _number("path_mm", "path through the water [mm]", POSITIVE),
        _number("dilution", "bath over bath in the jar by dilution, already applied [1]", 1.0),
        _number("turbidity", "turbidity [turbidity_unit]"),
        _number("turbidity_std", "standard error of the turbidity [turbidity_unit]", 0.0),
        _text("turbidity_unit", "unit of the turbidity"),
        _number("bone_yi_e313", "median yellowness index of the bone [ASTM E313, D65/2]"),
        _number("bone_yi_std", "standard error of bone_yi_e313", 0.0),
        _number("bone_yi_spread", "interquartile range of the yellowness over the bone", 0.0),
        _number("bone_lab_l", "median CIELAB L* of the bone [D65/2]"),
        _number("bone_lab_a", "median CIELAB a* of the bone [D65/2]"),
        _number("bone_lab_b", "median CIELAB b* of the bone [D65/2]"),
        _number("bone_whiteness_cie", "CIE whiteness of the bone [CIE 15, D65/2]"),
        _number("bone_tint_cie", "CIE tint of the bone [CIE 15, D65/2]"),
        _number("bone_delta_e00_clean", "CIEDE2000 of the bone to the clean-bone target", 0.0),
        _share("bone_yellow_patch_share", "share of the bone's seen area in yellow patches"),
        _number("bone_area_mm2", "seen area of the bone [mm2]", 0.0),
        _choice("bone_state", "how wet the bone was", BoneState),
        _number("colour_loo_delta_e00", "mean leave-one-out CIEDE2000 of the patches", 0.0),
        Column(
            name="colour_absolute",
            kind=Kind.FLAG,
            meaning="whether the patches were measured (absolute) or nominal (card-relative)",
        ),
        _whole("colour_order", "1 for a linear colour fit, 2 for root-polynomial terms"),
        _share("colour_clipped_share", "share of sampled pixels at either end of the scale"),
        _number("colour_gradient_ratio", "brightest over darkest light on the sheet [1]", 0.0),
        _whole("sheet_version", "version of the sheet"),
        _text("software_version", "version of greasecheck that measured it"),
        _text("check_plan", "key of the checks that were made"),
        _json("check_values", "list of what was found for each check, to 6 digits"),
        _json("failed_checks", "list of [place in the plan, advice] of the checks that failed"),
        NOTE,
    ),
)

CORRECTIONS = Table(
    name="corrections",
    meaning="corrections of readings; the reading holds the corrected value",
    key=("reading_key", "number"),
    columns=(
        _text("reading_key", "key of the reading", required=True),
        _whole("number", "1 for a reading's first correction, and so on", required=True, lowest=1),
        _time("made_at", "when it was corrected", required=True),
        _text("field", "column of readings that was corrected", required=True),
        _text("before", "what stood there"),
        _text("after", "what stands there now"),
        _text("why", "why"),
    ),
)

ATTEMPTS = Table(
    name="attempts",
    meaning="photos that gave no reading",
    key=("photo_sha256",),
    columns=(
        _text("photo_sha256", "SHA-256 of the photo", required=True),
        _text("photo_path", "file of the photo", required=True),
        _time("tried_at", "when it was tried", required=True),
        _whole("tub", "number of the tub, when its tag was seen"),
        _time("taken_at", "when the photo was taken, when known"),
        _text("problem", "what is wrong", required=True),
        _text("hint", "what to do", required=True),
        _text("software_version", "version of greasecheck that tried it", required=True),
    ),
)

DENIALS = Table(
    name="denials",
    meaning="spans in which there was no water change, though the haze fell",
    key=("tub", "earliest", "latest"),
    columns=(
        _whole("tub", "number of the tub", required=True),
        _time("earliest", "start of the span", required=True),
        _time("latest", "end of the span", required=True),
    ),
)

FOLLOW_UPS = Table(
    name="follow_ups",
    meaning="how finished skulls looked some weeks later",
    key=("skull", "seen_at"),
    columns=(
        _text("skull", "name of the skull", required=True),
        _time("seen_at", "when it was looked at", required=True),
        Column(name="yellowed", kind=Kind.FLAG, meaning="whether it had yellowed", required=True),
        _number("yi_e313", "yellowness index then [ASTM E313, D65/2]"),
        _share("yellow_patch_share", "share of its seen area in yellow patches then"),
        NOTE,
    ),
)

STANDARDS = Table(
    name="standards",
    meaning="references and calibrations, each in force until the next of its kind",
    key=("kind", "in_force_from"),
    columns=(
        _choice("kind", "what it is", StandardKind, required=True),
        _time("in_force_from", "from when it is in force", required=True),
        _json("body", "the text of its file", required=True),
        NOTE,
    ),
)

# Each table stands after those it refers to.
TABLES = (
    TUBS,
    BATHS,
    SKULLS,
    SKULL_EVENTS,
    CHECK_PLANS,
    READINGS,
    CORRECTIONS,
    ATTEMPTS,
    DENIALS,
    FOLLOW_UPS,
    STANDARDS,
)


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
