"""Finds where each skull of the logbook stands; shared by commands, pages and calendar."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.garage.milestones import SkullLife, all_milestones, milestones
from greasecheck.garage.soaks.refresh import advice_of_tubs
from greasecheck.logbook.skulls.skulls import list_skulls, skull_named
from greasecheck.logbook.skulls.stays import soaking
from greasecheck.model.verdicts import DoneVerdict
from greasecheck.predict.advice.stage import skull_stage

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from greasecheck.garage.soaks.answers import Brief, SkullAnswer
    from greasecheck.logbook.records import Skull
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.predict.advice.decisions import TubAdvice
    from greasecheck.predict.advice.done import DoneAdvice
    from greasecheck.predict.advice.stage import Milestone, SkullStage

FEW_SKULLS = 20  # are asked for one by one; more are sooner read with all others


def named_skulls(book: Logbook, names: Sequence[str]) -> tuple[Skull, ...]:
    """Return the skulls of these names; all without names.

    Raises
    ------
    LogbookError
        When there is no skull of a name.
    """
    return tuple(skull_named(book, name) for name in names) or list_skulls(book)


def advice_for(
    book: Logbook, skulls: Sequence[Skull], now: datetime
) -> dict[int, TubAdvice | None]:
    """Return the advice for each tub that one of the skulls soaks in, by the tub's number."""
    names = {skull.name for skull in skulls}
    tubs = sorted({stay.tub for stay in soaking(book) if stay.skull in names})
    return dict(advice_of_tubs(book, tubs, now))


def skull_lives(
    book: Logbook,
    skulls: Sequence[Skull],
    advised: Mapping[int, TubAdvice | Brief | None],
    now: datetime,
) -> tuple[SkullLife, ...]:
    """Return where skulls stand, given the advice for the tubs they soak in, or what is kept of it.

    A skull whose date is withheld has none here either.
    """
    soaking: dict[str, DoneAdvice | SkullAnswer] = {
        skull.name: skull
        for advice in advised.values()
        if advice is not None
        for skull in advice.skulls
    }
    reached = (
        all_milestones(book)
        if len(skulls) > FEW_SKULLS
        else {skull.name: milestones(book, skull.name) for skull in skulls}
    )
    return tuple(
        SkullLife(
            name=skull.name,
            owner=skull.owner,
            stage=_stage(reached.get(skull.name, ()), now, soaking.get(skull.name)),
            withheld=soaking[skull.name].withheld if skull.name in soaking else None,
        )
        for skull in skulls
    )


def _stage(
    reached: Sequence[Milestone], now: datetime, advice: DoneAdvice | SkullAnswer | None
) -> SkullStage:
    if advice is None or advice.withheld:
        return skull_stage(reached, now)
    return skull_stage(
        reached,
        now,
        surely_degreased_at=advice.surely_degreased_at,
        done=advice.verdict is DoneVerdict.DONE,
    )
