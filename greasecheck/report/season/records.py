"""What the season's page shows: plain frozen records, all words ready to be read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from greasecheck.answers import Task, TubAnswer
    from greasecheck.predict.yellowing.records import YellowingRisk
    from greasecheck.reference.cautions import Caution
    from greasecheck.report.charts.registry import Part
    from greasecheck.report.charts.style import Chart


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """A number with its unit and uncertainty, and what it means in a few words."""

    name: str
    value: str
    meaning: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A photo to show: the content of a JPEG file, and what is seen."""

    jpeg: bytes
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TubCard:
    """All about one tub.

    Attributes
    ----------
    answer : TubAnswer
        How it stands.
    inside : str
        What soaks in it.
    facts : tuple of Fact
        Its numbers.
    charts : tuple of Chart
        Drawn in this order.
    notes : tuple of str
        What the answer rests on, and how far to trust it.
    photo : Picture or None
        The newest photo.
    """

    answer: TubAnswer
    inside: str
    facts: tuple[Fact, ...]
    charts: tuple[Chart, ...]
    notes: tuple[str, ...]
    photo: Picture | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SkullRow:
    """A skull, where it stands, and when its owner can have it."""

    name: str
    species: str
    owner: str
    stage: str
    next_step: str
    next_day: str
    promise: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RiskRow:
    """A skull's risk of yellowing later, with its reasons."""

    name: str
    standing: str
    risk: YellowingRisk


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipeRow:
    """Two recipes against each other, in words."""

    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Season:
    """All that the page shows.

    Attributes
    ----------
    made_at : datetime.datetime
        Zone-aware, in the zone of the page.
    tasks : tuple of Task
        Today's list, most pressing first.
    tubs : tuple of TubCard
        What is due first.
    skulls : tuple of SkullRow
        In the order of the page.
    recipes : tuple of RecipeRow
        Each pair that was compared.
    recipe_notes : tuple of str
        What to know before believing them.
    risks : tuple of RiskRow
        Highest first.
    risk_trust : tuple of str
        How far to trust the risks.
    cautions : tuple of Caution
        Of what is used.
    charts : mapping
        From a part of the page to its charts.
    simulated : bool
        Whether the season is an invented one, which the page then states.
    """

    made_at: datetime
    tasks: tuple[Task, ...]
    tubs: tuple[TubCard, ...]
    skulls: tuple[SkullRow, ...]
    recipes: tuple[RecipeRow, ...]
    recipe_notes: tuple[str, ...]
    risks: tuple[RiskRow, ...]
    risk_trust: tuple[str, ...]
    cautions: tuple[Caution, ...]
    charts: Mapping[Part, tuple[Chart, ...]]
    simulated: bool = False
