"""Why something is advised about a tub or a skull: codes with values."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class ReasonCode(StrEnum):
    """What an advice rests on; the values that go with each stand beside it."""

    LITTLE_GREASE = "little_grease"  # for a water change
    LEACHING = "leaching"  # age of the water [days], leaching over that in fresh water
    CHEAPEST = "cheapest"  # interval [days], price of a change, of a day
    TWICE_AS_OFTEN = "twice_as_often"  # interval, usual one, days saved: median, low, high
    NO_HAZE = "no_haze"  # from acetone; interval [days]
    FEW_READINGS = "few_readings"  # to tell the pace
    AS_EXPECTED = "as_expected"  # the pace
    NEARLY_DONE = "nearly_done"  # a low pace is for want of grease
    ONE_LOW_READING = "one_low_reading"
    SLOW = "slow"  # leaching over what was expected
    HEATER = "heater"  # a cause of a low pace, as are the two below
    SOAP = "soap"
    FLOATS = "floats"
    GREASE_LEFT = "grease_left"  # odds that it is under a share, the share, median, low, high
    PATCHES = "patches"  # share of the bone's area
    PATCHES_UNREAD = "patches_unread"
    FEW_LOOKS = "few_looks"  # how many, at the bone
    PALING = "paling"  # slope of the yellowness [1/week], low, high
    SETTLED = "settled"  # the same
    SLOPE_UNSURE = "slope_unsure"  # the same


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """A reason, with its values in the order that its code states."""

    code: ReasonCode
    values: tuple[float, ...] = ()


CAUSES = (ReasonCode.HEATER, ReasonCode.SOAP, ReasonCode.FLOATS)
