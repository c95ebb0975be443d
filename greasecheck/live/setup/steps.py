"""How far the setup is: which steps are done, by what the logbook holds."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from greasecheck.logbook.readings.standards import in_force
from greasecheck.logbook.records import StandardKind
from greasecheck.logbook.settings import Setting, settings_of
from greasecheck.logbook.skulls.skulls import list_skulls
from greasecheck.logbook.water.baths import bath_at, list_tubs

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook

STAND, LADDER, CARD, EYE = "stand", "ladder", "card", "eye"
MEASURED_BY = (STAND, LADDER, CARD, EYE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """The state of the setup; by default that of a garage without a logbook.

    Attributes
    ----------
    chosen : dict
        What is set.
    measured_by : str
        The stand, a ladder in the tub, a card beside the skull, or the eye alone.
    has_clear_water : bool
        Whether a clear-water reference is in force.
    tubs, filled, skulls : int
        How many tubs there are, how many of them hold a bath, how many skulls.
    """

    chosen: dict[Setting, str] = field(default_factory=dict)
    measured_by: str = STAND
    has_clear_water: bool = False
    tubs: tuple[int, ...] = ()
    filled: int = 0
    skulls: int = 0

    @property
    def has_stand(self) -> bool:
        """Return whether photos are taken before a stand."""
        return self.measured_by == STAND

    @property
    def needs_tags(self) -> bool:
        """Return whether tubs need tags; a ladder bears its own."""
        return self.measured_by not in {LADDER, EYE}

    @property
    def done(self) -> dict[str, bool]:
        """Return which steps are done, by name, in their order."""
        printed = Setting.PRINT_CHECKED in self.chosen
        seen = {"print": printed, "stand": Setting.STAND_CHECKED in self.chosen}
        return {
            "how": Setting.MEASURED_BY in self.chosen,
            **(seen if self.measured_by != EYE else {}),
            **({"clear": self.has_clear_water} if self.has_stand else {}),
            "tubs": self.filled > 0,
            "tags": not self.needs_tags or Setting.TAGS_PRINTED in self.chosen,
            "prices": Setting.CHANGE_PRICE in self.chosen,
        }

    @property
    def next_step(self) -> str:
        """Return the first step that is not done; empty when all are."""
        return next((name for name, done in self.done.items() if not done), "")


def setup_steps(book: Logbook) -> Steps:
    """Return how far the setup of a logbook is."""
    now, chosen = datetime.now(UTC), settings_of(book)
    tubs = tuple(tub.number for tub in list_tubs(book))
    return Steps(
        chosen=chosen,
        measured_by=chosen.get(Setting.MEASURED_BY, STAND),
        has_clear_water=in_force(book, StandardKind.CLEAR_WATER, now) is not None,
        tubs=tubs,
        filled=sum(bath_at(book, number, now) is not None for number in tubs),
        skulls=len(list_skulls(book)),
    )
