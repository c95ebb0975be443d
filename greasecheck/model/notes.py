"""What to know before believing a forecast: codes with values."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime


class NoteCode(StrEnum):
    """What a note says; what goes with each stands beside it."""

    NO_READINGS = "no_readings"
    LITTLE_DATA = "little_data"
    NOT_SETTLED = "not_settled"  # the fit
    UNDESCRIBED = "undescribed"  # the readings, by the model; values: scatter, drift
    BLOOM = "bloom"  # value: share of the haze in old water that is no grease
    ACETONE = "acetone"
    SOLID_FAT = "solid_fat"  # name: species; values: melts from, to, the bath [degrees C]
    UNLOGGED_CHANGE = "unlogged_change"  # times: the readings around it
    CHANGES_CLOSE = "changes_close"  # logged less than an hour apart
    SILENT = "silent"  # value: days since the last reading
    STOPPED = "stopped"  # value: probability that the haze stopped with grease left in the bone
    NEVER = "never"  # value: probability of never being degreased under this plan
    ALIKE = "alike"  # names: skulls that the haze cannot separate


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """A note, with what its code states in that order."""

    code: NoteCode
    values: tuple[float, ...] = ()
    names: tuple[str, ...] = ()
    times: tuple[datetime, ...] = ()
