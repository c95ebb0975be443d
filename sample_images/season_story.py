"""The invented season behind the simulated log: which skull soaks where, in what, until when.

Tubs 12, 14, 17 and 21 are those of the sample photographs: their grease and their bones are set so
that the log agrees with `story.py`. All else is invented so that each kind of answer comes up.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from enum import StrEnum

from greasecheck.model import Recipe
from sample_images.story import ZONE

YEAR = 2026
NOW = datetime(YEAR, 5, 25, 12, tzinfo=ZONE)
# What is true of the recipes: how many times as fast as soap they draw grease.
RECIPE_PACES = {Recipe.SOAP: 1.0, Recipe.SOAP_AMMONIA: 1.6, Recipe.AMMONIA: 0.9}


class Form(StrEnum):
    """How the grease really leaves a bone."""

    ONE_POOL = "one pool"
    TWO_POOLS = "two pools"
    SHEET = "sheet"
    SPHERE = "sphere"


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneAt:
    """A bone on a day: yellowness index (ASTM E313) and the share of it in yellow patches."""

    day: date
    yi_e313: float
    yellow_patch_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ladder:
    """A ladder in a tub: from when it hangs there, and how it sees the water.

    Attributes
    ----------
    since : date
        From this day it is read daily, and a jar is dipped for the bone's photo alone.
    gain : float
        Haze over the decay that it reads of this kind of water [1].
    full_mm : float
        Height of the fresh water above its lower end [mm].
    """

    since: date
    gain: float
    full_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Soak:
    """Skulls in a tub, from the day they went in.

    Attributes
    ----------
    tub : int
        The tub.
    skulls : tuple of str
        What soaks in it.
    start, end : date
        First day, and the day it was taken out; None while it soaks.
    recipe, temperature_c : Recipe, float
        The baths.
    soap_days : float
        Days after which a bath of plain soap at 40 degrees C would be clear.
    first_gain_per_m : float
        Haze that the first soak of 3 days gains there [1/m].
    form : Form
        How the grease leaves.
    partition : float
        How much grease the bath holds against the bone before it takes no more [1].
    interval_days : int
        Usual days between changes.
    refills : tuple of date
        Days on which the water was changed for certain; none after the last of them.
    read_every_days : float
        Mean days between readings.
    last_reading : date or None
        Nobody took a photo later; None for one to the end.
    bone : tuple of BoneAt
        Days between which the bone is interpolated; empty for one that follows its grease.
    forgotten : date or None
        A change in the morning that nobody entered.
    heater_off : date or None
        From the evening of this day on the heater is off.
    ladder : Ladder or None
        The one that hangs in the tub.
    """

    tub: int
    skulls: tuple[str, ...]
    start: date
    soap_days: float
    first_gain_per_m: float
    end: date | None = None
    recipe: Recipe = Recipe.SOAP
    temperature_c: float = 40.0
    form: Form = Form.TWO_POOLS
    partition: float = 1.0
    interval_days: int = 4
    refills: tuple[date, ...] = ()
    read_every_days: float = 2.2
    last_reading: date | None = None
    bone: tuple[BoneAt, ...] = ()
    forgotten: date | None = None
    heater_off: date | None = None
    ladder: Ladder | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Owned:
    """A skull, whose it is, and what happened to it after its soak.

    Attributes
    ----------
    name, species, owner : str
        As in the logbook.
    whitened, resoaked, dried, returned : date or None
        Days of these steps.
    seen : tuple of (date, bool)
        Follow-ups: the day, and whether it had yellowed.
    """

    name: str
    species: str
    owner: str
    whitened: date | None = None
    resoaked: date | None = None
    dried: date | None = None
    returned: date | None = None
    seen: tuple[tuple[date, bool], ...] = field(default=())


def _day(month: int, day: int) -> date:
    return date(YEAR, month, day)


def _bone(month: int, day: int, yi_e313: float, share: float) -> BoneAt:
    return BoneAt(day=_day(month, day), yi_e313=yi_e313, yellow_patch_share=share)


TUB_NAMES = {
    11: "by the door", 12: "blue", 13: "by the window", 14: "big grey", 15: "long",
    16: "old copper", 17: "small white", 18: "big blue", 19: "shelf left", 20: "shelf right",
    21: "green",
}  # fmt: skip
TUB_VOLUMES_L = {11: 60, 12: 30, 13: 40, 14: 60, 15: 80, 16: 80, 17: 20, 18: 80, 19: 20, 20: 20,
                 21: 30}  # fmt: skip
# When the keeper last felt the water of a tub and found heater, soap and bone all well.
FOUND_WELL = {12: NOW - timedelta(days=6)}

SOAKS = (
    # Finished before spring; some were taken out too early, and three of these yellowed.
    Soak(tub=11, skulls=("squirrel 1",), start=_day(1, 3), end=_day(1, 31), soap_days=22,
         first_gain_per_m=16, form=Form.ONE_POOL),
    Soak(tub=13, skulls=("fox 2",), start=_day(1, 3), end=_day(2, 20), soap_days=50,
         first_gain_per_m=46, recipe=Recipe.SOAP_AMMONIA),
    Soak(tub=15, skulls=("mink 1",), start=_day(1, 3), end=_day(1, 24), soap_days=48,
         first_gain_per_m=24),
    Soak(tub=16, skulls=("rabbit 1",), start=_day(1, 5), end=_day(2, 4), soap_days=20,
         first_gain_per_m=18),
    Soak(tub=19, skulls=("fox 4",), start=_day(1, 3), end=_day(1, 31), soap_days=60,
         first_gain_per_m=60, recipe=Recipe.SOAP_AMMONIA),
    Soak(tub=20, skulls=("cat 1",), start=_day(1, 3), end=_day(2, 2), soap_days=56,
         first_gain_per_m=30, recipe=Recipe.SOAP_AMMONIA),
    Soak(tub=16, skulls=("fox 3",), start=_day(2, 8), end=_day(3, 28), soap_days=42,
         first_gain_per_m=52, recipe=Recipe.SOAP_AMMONIA, form=Form.SPHERE),
    Soak(tub=19, skulls=("fox 5",), start=_day(2, 12), end=_day(4, 4), soap_days=54,
         first_gain_per_m=40, recipe=Recipe.SOAP_AMMONIA),
    Soak(tub=20, skulls=("cat 2",), start=_day(2, 12), end=_day(5, 6), soap_days=68,
         first_gain_per_m=28),
    Soak(tub=21, skulls=("fox 6",), start=_day(1, 5), end=_day(3, 22), soap_days=50,
         first_gain_per_m=54, refills=(_day(3, 13), _day(3, 17), _day(3, 21)),
         bone=(_bone(1, 5, 47, 1.0), _bone(2, 20, 27, 0.12), _bone(3, 16, 18.6, 0.0),
               _bone(3, 22, 18.2, 0.0))),
    Soak(tub=21, skulls=("mink 2",), start=_day(3, 26), end=_day(5, 23), soap_days=46,
         first_gain_per_m=26, recipe=Recipe.SOAP_AMMONIA),
    # Now in the tubs.
    Soak(tub=11, skulls=("roe deer 1", "roe deer 2"), start=_day(2, 5), soap_days=150,
         first_gain_per_m=44, recipe=Recipe.SOAP_AMMONIA, refills=(_day(5, 17),),
         read_every_days=1.6, ladder=Ladder(since=_day(4, 12), gain=1.0, full_mm=185.0)),
    Soak(tub=12, skulls=("fox 1",), start=_day(1, 12), soap_days=65, first_gain_per_m=115,
         form=Form.ONE_POOL, interval_days=5,
         refills=(_day(2, 13), _day(2, 17), _day(3, 30), _day(4, 5), _day(5, 22)),
         bone=(_bone(1, 12, 46.7, 0.995), _bone(2, 16, 30.9, 0.283), _bone(4, 5, 21.2, 0.095),
               _bone(5, 3, 13.9, 0.01), _bone(5, 24, 13.5, 0.0))),
    Soak(tub=13, skulls=("badger 1",), start=_day(3, 14), soap_days=130, first_gain_per_m=58,
         temperature_c=42, refills=(_day(5, 7), _day(5, 14), _day(5, 21)), read_every_days=1.4,
         heater_off=_day(5, 8)),
    Soak(tub=14, skulls=("coyote 1",), start=_day(1, 26), soap_days=126, first_gain_per_m=102,
         form=Form.ONE_POOL, interval_days=6,
         refills=(_day(2, 9), _day(2, 16), _day(3, 29), _day(4, 5), _day(5, 22)),
         bone=(_bone(1, 26, 50, 1.0), _bone(2, 16, 48.5, 0.994), _bone(4, 5, 33.4, 0.383),
               _bone(5, 25, 24, 0.16))),
    Soak(tub=15, skulls=("deer 1",), start=_day(2, 1), soap_days=155, first_gain_per_m=52,
         recipe=Recipe.SOAP_AMMONIA, refills=(_day(5, 11),), forgotten=_day(5, 20),
         ladder=Ladder(since=_day(4, 12), gain=0.97, full_mm=189.0)),
    Soak(tub=16, skulls=("boar 1",), start=_day(5, 9), soap_days=230, first_gain_per_m=170,
         refills=(_day(5, 16),), temperature_c=45),
    Soak(tub=17, skulls=("marten 1",), start=_day(2, 8), soap_days=46, first_gain_per_m=16,
         form=Form.ONE_POOL, refills=(_day(2, 25), _day(3, 2), _day(5, 10)),
         bone=(_bone(2, 8, 38, 0.6), _bone(3, 1, 26.3, 0.228), _bone(3, 8, 23.8, 0.151),
               _bone(4, 24, 15.2, 0.10), _bone(5, 1, 13.8, 0.094), _bone(5, 24, 13.7, 0.093))),
    Soak(tub=18, skulls=("deer 2",), start=_day(1, 3), soap_days=155, first_gain_per_m=60,
         form=Form.SHEET, refills=(_day(5, 22),), last_reading=_day(5, 20)),
    Soak(tub=19, skulls=("marten 2",), start=_day(4, 18), soap_days=58, first_gain_per_m=26,
         recipe=Recipe.AMMONIA, refills=(_day(5, 23),),
         ladder=Ladder(since=_day(4, 19), gain=0.85, full_mm=187.0)),
)  # fmt: skip

SKULLS = (
    Owned(name="badger 1", species="badger", owner="Hana"),
    Owned(name="boar 1", species="wild boar", owner="the shooting club"),
    Owned(name="cat 1", species="cat", owner="the village school", whitened=_day(2, 3),
          dried=_day(2, 14), returned=_day(2, 18), seen=((_day(3, 21), True),)),
    Owned(name="cat 2", species="cat", owner="the village school", whitened=_day(5, 8),
          resoaked=_day(5, 9)),
    Owned(name="coyote 1", species="coyote", owner="Rosa"),
    Owned(name="deer 1", species="deer", owner="Emil"),
    Owned(name="deer 2", species="deer", owner="Emil"),
    Owned(name="fox 1", species="fox", owner="Rosa"),
    Owned(name="fox 2", species="fox", owner="Hana", whitened=_day(2, 21), resoaked=_day(2, 22),
          dried=_day(3, 8), returned=_day(3, 16), seen=((_day(4, 18), False),)),
    Owned(name="fox 3", species="fox", owner="Yusuf", whitened=_day(3, 29),
          resoaked=_day(3, 30), dried=_day(4, 14), seen=((_day(5, 10), False),)),
    Owned(name="fox 4", species="fox", owner="Yusuf", whitened=_day(2, 1), dried=_day(2, 9),
          returned=_day(2, 15), seen=((_day(3, 20), True),)),
    Owned(name="fox 5", species="fox", owner="Mara", whitened=_day(4, 5), resoaked=_day(4, 6),
          dried=_day(4, 20), returned=_day(4, 24)),
    Owned(name="fox 6", species="fox", owner="Mara", whitened=_day(3, 23), resoaked=_day(3, 24),
          dried=_day(4, 7), returned=_day(4, 12), seen=((_day(5, 14), False),)),
    Owned(name="marten 1", species="marten", owner="Emil"),
    Owned(name="marten 2", species="marten", owner="Rosa"),
    Owned(name="mink 1", species="mink", owner="Yusuf", whitened=_day(1, 25),
          dried=_day(2, 2), returned=_day(2, 5), seen=((_day(3, 8), True),)),
    Owned(name="mink 2", species="mink", owner="Yusuf"),
    Owned(name="rabbit 1", species="rabbit", owner="the village school", whitened=_day(2, 5),
          resoaked=_day(2, 6), dried=_day(2, 20), returned=_day(2, 24),
          seen=((_day(3, 22), False), (_day(5, 3), False))),
    Owned(name="roe deer 1", species="roe deer", owner="Hana"),
    Owned(name="roe deer 2", species="roe deer", owner="Hana"),
    Owned(name="squirrel 1", species="squirrel", owner="the village school",
          whitened=_day(2, 1), resoaked=_day(2, 2), dried=_day(2, 16), returned=_day(2, 19),
          seen=((_day(3, 29), False),)),
)  # fmt: skip
