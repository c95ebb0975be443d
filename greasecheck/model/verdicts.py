"""What is advised about a tub and its skulls, as codes."""

from __future__ import annotations

from enum import StrEnum


class StallVerdict(StrEnum):
    """What the pace of leaching indicates."""

    STEADY = "steady"
    ODD_READING = "odd reading"
    STALLED = "stalled"
    QUICKENED = "quickened"


class ChangeVerdict(StrEnum):
    """Whether to change the water today."""

    CHANGE = "change today"
    WAIT = "wait"
    ENOUGH = "no more changes"


class DoneVerdict(StrEnum):
    """What to do with a skull."""

    DONE = "done"
    GREASE_LEFT = "soak on: grease left"
    YELLOW_PATCHES = "soak on: little grease left but yellow patches"
    BONE_PALING = "soak on: little grease left but the bone still pales"
    LOOK_AT_BONE = "photograph the bone"
    LOOK_AT_TUB = "look at the tub"
    MEASURE_WARMTH = "measure the water's temperature"
    PROVE = "leave the water warm for two weeks"
    PROVE_APART = "prove it in a tub of its own"
