"""The advice on tubs beyond what is kept: of running soaks, and under a plan or another rule."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from greasecheck.garage.progress import quiet
from greasecheck.garage.series import finished_tubs, tub_history
from greasecheck.garage.soaks.refresh import advice_of_tubs, advise_by_log, found_advice
from greasecheck.logbook.readings.readings import newest_bone_photo
from greasecheck.logbook.water.baths import list_tubs
from greasecheck.model.verdicts import DoneVerdict
from greasecheck.predict.outlook.forecasting import project
from greasecheck.predict.records import ClearRule, Plan

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from datetime import datetime

    from greasecheck.garage.progress import Progress
    from greasecheck.garage.soaks.past import PastSoak
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.predict.advice.decisions import TubAdvice


@dataclass(frozen=True, slots=True, kw_only=True)
class PatchPhoto:
    """The photo that shows where a skull's yellow patches are."""

    skull: str
    path: str


def patch_photos(book: Logbook, tub: int, advice: TubAdvice | None) -> tuple[PatchPhoto, ...]:
    """Return the newest photo of each skull that soaks on for its yellow patches."""
    patchy = [
        skull.name
        for skull in (advice.skulls if advice else ())
        if skull.verdict is DoneVerdict.YELLOW_PATCHES
    ]
    found = [(name, newest_bone_photo(book, tub, name)) for name in patchy]
    return tuple(PatchPhoto(skull=name, path=path) for name, path in found if path)


def running_advice(
    book: Logbook, soaks: Iterable[PastSoak], now: datetime, *, progress: Progress = quiet
) -> dict[int, TubAdvice | None]:
    """Return the advice on the tubs of soaks that last, by number; None where there is none."""
    numbers = sorted({soak.tub for soak in soaks if soak.until >= now})
    each = (found for number in numbers for found in found_advice(book, [number], now))
    return dict(progress(each, len(numbers), "weighing tubs"))


def planned_tubs(
    book: Logbook, numbers: Sequence[int], now: datetime, plan: Plan, rule: ClearRule
) -> Iterator[tuple[int, TubAdvice | None]]:
    """Yield each tub with its advice by a rule, its forecast under a plan.

    Parameters
    ----------
    book, numbers, now
        As for `advice_of_tubs`.
    plan : Plan
        How the tubs will be run; what speaks against their dates does so under any plan.
    rule : ClearRule
        What counts as clear and as degreased.
    """
    if (plan, rule) == (Plan(), ClearRule()):
        yield from advice_of_tubs(book, numbers, now)
        return
    tubs, finished = {tub.number: tub for tub in list_tubs(book)}, finished_tubs(book)
    for number in numbers:
        history = tub_history(book, number, now)
        if history is None:
            yield number, None
            continue
        advice = advise_by_log(book, tubs[number], history, finished, now, rule=rule)
        assert advice.fit is not None  # only what is kept lacks its fit
        found = project(advice.fit, plan=plan, rule=rule, proved=advice.proved)
        yield number, replace(advice, forecast=found)
