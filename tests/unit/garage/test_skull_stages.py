"""Where a skull stands by its own advice: the tub's date reaches it, and one withheld does not."""

from __future__ import annotations

from datetime import timedelta
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any, cast

import pytest

from greasecheck.garage.skull_stages import skull_lives
from greasecheck.logbook.records import Tub
from greasecheck.logbook.skulls.skulls import list_skulls
from greasecheck.logbook.water.baths import enter_tub
from greasecheck.model.reasons import ReasonCode
from greasecheck.model.verdicts import DoneVerdict
from tests.logbook_samples import day
from tests.skull_log import soak

if TYPE_CHECKING:
    from greasecheck.garage.milestones import SkullLife
    from greasecheck.logbook.store.book import Logbook

NOW, SURELY = day(40), day(60)


def life(book: Logbook, **told: Any) -> SkullLife:  # noqa: ANN401 - what an advice may tell
    """Return where a fox stands that soaks since day 0, by an advice that tells some things."""
    enter_tub(book, Tub(number=1))
    soak(book, "fox", 1)
    known = {
        "name": "fox",
        "surely_degreased_at": SURELY,
        "withheld": None,
        "verdict": DoneVerdict.GREASE_LEFT,
    }
    advice = SimpleNamespace(skulls=(SimpleNamespace(**known | told),))
    [found] = skull_lives(book, list_skulls(book), cast("Any", {1: advice}), NOW)
    return found


def test_the_date_of_its_tub_is_what_is_next(book: Logbook) -> None:
    found = life(book)
    assert (found.stage.next_at, found.stage.done, found.withheld) == (SURELY, False, None)
    assert found.stage.promise_at is not None
    assert found.stage.promise_at > SURELY + timedelta(days=1)


def test_a_withheld_date_is_none(book: Logbook) -> None:
    found = life(book, withheld=ReasonCode.SLOW)
    assert (found.stage.next_at, found.stage.promise_at) == (None, None)
    assert found.withheld is ReasonCode.SLOW


@pytest.mark.parametrize("verdict", list(DoneVerdict))
def test_only_one_that_is_to_be_taken_out_is_done(book: Logbook, verdict: DoneVerdict) -> None:
    assert life(book, verdict=verdict).stage.done is (verdict is DoneVerdict.DONE)
