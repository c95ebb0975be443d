"""The records of the logbook: what was entered about tubs, baths, skulls and readings."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.model import BodyCondition, BoneState, Bound, ReadingKind, Recipe, Verdict
    from greasecheck.stages import EventKind


class WeightClass(StrEnum):
    """How massive a skull is."""

    LIGHT = "light"
    MEDIUM = "medium"
    HEAVY = "heavy"


class StandardKind(StrEnum):
    """What a measurement rests on beside the photo."""

    CLEAR_WATER = "clear_water"
    TURBIDITY = "turbidity"
    PATCH_VALUES = "patch_values"
    LENS = "lens"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tub:
    """A tub: its number (that of its tag), name, volume [L], first day, and when all was well."""

    number: int
    name: str | None = None
    volume_l: float | None = None
    started_at: datetime | None = None
    checked_at: datetime | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Bath:
    """One filling of a tub.

    Attributes
    ----------
    tub : int
        The tub's number.
    filled_at : datetime.datetime
        When it was filled.
    dumped_at : datetime.datetime or None
        When it was dumped without a refill; None when the next filling ended it, or nothing has.
    recipe : Recipe
        What went in.
    temperature_c : float or None
        Temperature the bath is held at [degrees C].
    carry_over_share : float or None
        Share of the old bath that stayed in the tub at this filling, 0 to 1.
    why, note : str or None
        Why the water was changed, and anything else.
    """

    tub: int
    filled_at: datetime
    recipe: Recipe
    dumped_at: datetime | None = None
    temperature_c: float | None = None
    carry_over_share: float | None = None
    why: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BathTemperature:
    """A bath's temperature [degrees C] from a time on, until the next one or the next change."""

    tub: int
    at: datetime
    temperature_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ToppedUp:
    """Fresh water [L] poured in for what dried away, until the tub was full again."""

    tub: int
    at: datetime
    litres: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Skull:
    """A skull under its name or its owner's label."""

    name: str
    species: str | None = None
    weight_class: WeightClass | None = None
    condition: BodyCondition | None = None
    owner: str | None = None
    tag: int | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SkullEvent:
    """Something that happened to a skull; strength [%] and duration [h] of a whitening."""

    skull: str
    happened_at: datetime
    kind: EventKind
    tub: int | None = None
    strength_percent: float | None = None
    duration_h: float | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FollowUp:
    """How a finished skull looked some weeks later."""

    skull: str
    seen_at: datetime
    yellowed: bool
    yi_e313: float | None = None
    yellow_patch_share: float | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HandReading:
    """A reading without a photo: haze [1/m] with its standard error, bone yellowness, or both.

    Without a `kind` it is of a jar, or of bone alone when it holds no haze.
    """

    tub: int
    taken_at: datetime
    attenuation_per_m: float | None = None
    attenuation_std_per_m: float | None = None
    bound: Bound | None = None
    bone_yi_e313: float | None = None
    bone_yi_std: float | None = None
    bone_state: BoneState | None = None
    kind: ReadingKind | None = None
    skull: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedReading:
    """A reading as the logbook holds it; what was not measured is None.

    Attributes
    ----------
    key : str
        SHA-256 of the photo, after a colon the part of it where it has several readings, or
        "hand:tub:time" without a photo.
    kind : ReadingKind
        What was looked at.
    wrong : bool
        Marked wrong by a person; kept, but used for nothing.
    attenuation_per_m, attenuation_std_per_m : float or None
        Haze and its standard error [1/m].
    decay_per_m, decay_std_per_m : float or None
        Decay of a ladder's contrast along the sight line and its standard error [1/m].
    level_mm, level_std_mm : float or None
        Height of the water above the ladder's lower end and its standard error [mm].
    drawn : str or None
        What was drawn to correct what is bone, as JSON.
    """

    key: str
    tub: int
    taken_at: datetime
    verdict: Verdict
    wrong: bool
    kind: ReadingKind
    skull: str | None
    photo_path: str | None
    attenuation_per_m: float | None
    attenuation_std_per_m: float | None
    bound: Bound | None
    decay_per_m: float | None
    decay_std_per_m: float | None
    level_mm: float | None
    level_std_mm: float | None
    turbidity: float | None
    turbidity_std: float | None
    turbidity_unit: str | None
    tint_yi: float | None
    bone_yi_e313: float | None
    bone_yi_std: float | None
    bone_yellow_patch_share: float | None
    bone_yellow_share_std: float | None
    bone_area_mm2: float | None
    bone_state: BoneState | None
    drawn: str | None
    note: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """One correction of a reading: which field, what stood there, what stands there now."""

    reading_key: str
    number: int
    made_at: datetime
    field: str
    before: str | None
    after: str | None
    why: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """A photo that gave no reading, and why."""

    photo_sha256: str
    photo_path: str
    tried_at: datetime
    tub: int | None
    taken_at: datetime | None
    problem: str
    hint: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbableChange:
    """A water change nobody entered, found by the fall of the haze between two readings.

    Attributes
    ----------
    tub : int
        The tub's number.
    earliest, latest : datetime.datetime
        The readings before and after it.
    before_per_m, after_per_m : float
        Haze of the two readings [1/m].
    """

    tub: int
    earliest: datetime
    latest: datetime
    before_per_m: float
    after_per_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Standard:
    """A reference or calibration in force from a time on; `body` is the JSON text of its file."""

    kind: StandardKind
    in_force_from: datetime
    body: str
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """A day promised to a skull's owner, and the odds on that day that it is ready by then."""

    skull: str
    promised_at: datetime
    ready_by: datetime
    probability: float | None = None
    note: str | None = None
