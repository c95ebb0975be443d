"""Why something is advised about a tub or a skull: codes with values."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

# Of the sign of a soak against its usual time: below an eighth of it, shorter means no more.
SHORTEST_LOG2_SOAK = -3.0


class ReasonCode(StrEnum):
    """What an advice rests on; the values that go with each stand beside it."""

    LITTLE_GREASE = "little_grease"  # for a water change
    SOAKS_ON = "soaks_on"  # though little grease is left; interval [days]
    LEACHING = "leaching"  # age of the water [days], leaching over that in fresh water
    CHEAPEST = "cheapest"  # interval [days], price of a change, of a day
    TWICE_AS_OFTEN = "twice_as_often"  # interval, usual one, days saved: median, low, high
    NO_HAZE = "no_haze"  # from acetone; interval [days]
    FEW_READINGS = "few_readings"  # to judge the pace
    AS_EXPECTED = "as_expected"  # the pace
    NEARLY_DONE = "nearly_done"  # a low pace is for lack of grease
    ENDED_AT_ONCE = "ended_at_once"  # a low pace: for lack of grease, or it stopped coming out
    ONE_LOW_READING = "one_low_reading"
    SLOW = "slow"  # leaching over what was expected
    HEATER = "heater"  # a cause of a low pace, as are the two below
    SOAP = "soap"
    FLOATS = "floats"
    UNANSWERED = "unanswered"  # an alarm of before, which nobody answered
    MEASURED_COLD = "measured_cold"  # measured, and filled in [degrees C]
    QUICKENED = "quickened"  # the pace rose: over what it was before
    QUIET = "quiet"  # a low pace: for lack of grease, or of warmth
    UNFIT = "unfit"  # no leaching describes the readings
    CLEAR_SOAP = "clear_soap"  # ammonia: grease may leave without haze
    GREASE_LEFT = "grease_left"  # odds that it is under a share, the share, median, low, high
    PATCHES = "patches"  # share of the bone's area
    PATCHES_UNREAD = "patches_unread"
    FEW_LOOKS = "few_looks"  # how many, at the bone
    PALING = "paling"  # slope of the yellowness [1/week], low, high
    SETTLED = "settled"  # the same
    SLOPE_UNSURE = "slope_unsure"  # the same
    BONE_CONTRADICTS = "bone_contradicts"  # the water says little grease is left, the bone not yet
    EARLY = "early"  # soaked, the species' usual low and high end, as at 40 degrees C [days]
    UNPROVED = "unproved"  # the pace once broke: only the proof will do; its length at most [days]
    UNBACKED = "unbacked"  # quiet water alone says so; the proof's length at most [days]
    COLD_QUESTION = "cold_question"  # nobody saw the water warm since it fell quiet
    PROVED = "proved"  # a warm bath left alone stayed nearly clear
    UNSEEN = "unseen"  # grease that no water reached does not show


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """A reason, with its values in the order that its code states."""

    code: ReasonCode
    values: tuple[float, ...] = ()


CAUSES = (ReasonCode.HEATER, ReasonCode.SOAP, ReasonCode.FLOATS)
