"""What may follow what in the life of a skull."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greasecheck.stages import (
    FOLLOWING,
    EventKind,
    Stage,
    allowed_after,
    first_misstep,
    stages_of,
)

E = EventKind


def test_a_skull_goes_its_way_to_its_owner() -> None:
    way = [E.ENTERED, E.MOVED, E.DEGREASED, E.WHITENED, E.RESOAKED, E.DRIED, E.RETURNED]
    assert first_misstep(way) is None
    assert stages_of(way)[-3:] == (Stage.RINSING, Stage.DRIED, Stage.RETURNED)


@pytest.mark.parametrize(
    ("events", "missing"),
    [
        ([E.ENTERED, E.DRIED], (E.DEGREASED,)),
        ([E.ENTERED, E.WHITENED], (E.DEGREASED,)),
        ([E.MOVED], (E.ENTERED,)),
        ([E.ENTERED, E.ENTERED], ()),
        ([E.ENTERED, E.DEGREASED, E.MOVED], (E.RESOAKED,)),
    ],
)
def test_what_cannot_follow_says_what_is_missing(
    events: list[EventKind], missing: tuple[EventKind, ...]
) -> None:
    wrong = first_misstep(events)
    assert wrong is not None
    assert wrong.event is events[-1]
    if events != [E.ENTERED, E.ENTERED]:
        assert wrong.missing == missing


@given(st.lists(st.sampled_from(EventKind), max_size=8))
def test_what_is_missing_makes_the_rest_possible(events: list[EventKind]) -> None:
    wrong = first_misstep(events)
    if wrong is None:
        stages = (Stage.ENTERED, *stages_of(events))
        assert all(
            event in allowed_after(before)
            for (before, _), event in zip(pairwise(stages), events, strict=True)
        )
        return
    place = next(n for n in range(len(events)) if first_misstep(events[: n + 1]) is not None)
    if wrong.missing:
        mended = [*events[:place], *wrong.missing, events[place]]
        assert first_misstep(mended) is None


def test_every_stage_leads_home() -> None:
    for stage in FOLLOWING:
        assert stage is Stage.RETURNED or E.RETURNED in allowed_after(stage)
