"""What is asked of a photo that is to become the clear-water reference."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.words.times import exact

if TYPE_CHECKING:
    from datetime import datetime

WITHOUT_TAG = (
    "take the tag out of the slot and photograph the jar with clean tap water, or say that it is "
    "tap water all the same"
)

ONE_PHOTO = (
    "one photo does not show whether something shaded or lit its jar, which would falsify every "
    "reading: step aside, take a second one and give both (a copy of a photo is no second one)"
)


def tag_of_a_bath(name: str, tub: int) -> str:
    """Say why a photo with a tub's tag is no clear-water reference."""
    return f"{name} shows the tag of tub {tub}, and bath water cannot serve as clear water"


def clear_water_without_time(name: str, at: datetime) -> str:
    """Say from when a reference is in force whose photo carries no time."""
    return (
        f"{name}: it carries no time, so the file's was taken, {exact(at)}: the reference "
        "is in force from then on"
    )
