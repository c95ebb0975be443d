"""The invented season that the sample images tell: which tub, when, what water, what bone."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from sample_images.bone import Bone
from sample_images.scene import Water

ZONE = ZoneInfo("Europe/Amsterdam")
TAP_WATER = Water(extinction_per_m=(0.3, 0.3, 0.3), albedo=0.95, g=0.9)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """One photograph of the season.

    Attributes
    ----------
    file : str
        Its name.
    tub : int or None
        Number on the tag in the slot; None without a tag.
    taken_at : datetime
        Local time of the garage.
    water : Water
        In the jar.
    bone : Bone or None
        On the rest.
    verdict : str
        What a careful reader should say: good, doubtful or refused.
    note : str
        What is special.
    sheet, foam, badly_lit : bool
        Whether the sheet stands there, foam covers part of the sight, the lamp is misplaced.
    exposure : float
        Factor on the usual exposure.
    """

    file: str
    tub: int | None
    taken_at: datetime
    water: Water
    bone: Bone | None
    verdict: str
    note: str
    sheet: bool = True
    foam: bool = False
    badly_lit: bool = False
    exposure: float = 1.0


def _milk(extinction_per_m: float, g: float = 0.9) -> Water:
    """Grease and soap: scatters all colours alike, a little more of the blue."""
    r, gr, b = (round(extinction_per_m * tint, 2) for tint in (0.97, 1.0, 1.04))
    return Water(extinction_per_m=(r, gr, b), albedo=0.95, g=g)


def _at(month: int, day: int, hour: int, minute: int) -> datetime:
    return datetime(2026, month, day, hour, minute, tzinfo=ZONE)


def _fox(base: float, patches: float) -> Bone:
    return Bone(base=base, patch_share=patches, scale=1.0, facing=-1, seed=1)


def _coyote(base: float, patches: float) -> Bone:
    return Bone(base=base, patch_share=patches, scale=1.08, facing=-1, seed=5)


def _marten(base: float, patches: float) -> Bone:
    return Bone(base=base, patch_share=patches, scale=0.78, facing=1, seed=9)


def season() -> tuple[Scene, ...]:
    """Return the photographs in the order of their times."""
    blood = Water(extinction_per_m=(11.0, 21.0, 32.0), albedo=0.45, g=0.93)
    return (
        Scene(file="01_tap_water.jpg", tub=None, taken_at=_at(1, 10, 9, 5), water=TAP_WATER,
              bone=None, verdict="good", note="clear-water reference; no tag, rest empty"),
        Scene(file="02_tub12_january.jpg", tub=12, taken_at=_at(1, 12, 18, 40), water=blood,
              bone=_fox(0.75, 0.0), verdict="good",
              note="first water, brown with blood; bone greasy all over"),
        Scene(file="03_tub12_february.jpg", tub=12, taken_at=_at(2, 16, 18, 22),
              water=_milk(28.0), bone=_fox(0.35, 0.40), verdict="good",
              note="milky with grease; bone in patches", exposure=1.03),
        Scene(file="04_tub14_february.jpg", tub=14, taken_at=_at(2, 16, 18, 26),
              water=_milk(150.0), bone=_coyote(0.80, 0.0), verdict="good",
              note="beyond the range of the jar: a bound above, not a number"),
        Scene(file="05_tub17_march.jpg", tub=17, taken_at=_at(3, 1, 10, 12),
              water=_milk(12.0, 0.85), bone=_marten(0.25, 0.30), verdict="good",
              note="cloudy", exposure=0.97),
        Scene(file="06_tub17_foam.jpg", tub=17, taken_at=_at(3, 8, 10, 3), water=_milk(9.0, 0.85),
              bone=_marten(0.20, 0.22), verdict="refused", foam=True,
              note="jar half filled, foam before the fine bars"),
        Scene(file="07_tub21_no_sheet.jpg", tub=None, taken_at=_at(3, 15, 20, 31),
              water=_milk(3.0), bone=_fox(0.10, 0.0), verdict="refused", sheet=False,
              note="the sheet was left in the house"),
        Scene(file="08_tub21_bad_light.jpg", tub=21, taken_at=_at(3, 15, 20, 44),
              water=_milk(3.0), bone=_fox(0.10, 0.0), verdict="refused", badly_lit=True,
              exposure=0.45, note="bulb at the side: the jar's shadow on the bars, too dark"),
        Scene(file="09_tub21_march.jpg", tub=21, taken_at=_at(3, 16, 18, 10), water=_milk(3.0),
              bone=_fox(0.10, 0.0), verdict="good", note="taken again: nearly clear"),
        Scene(file="10_tub12_april.jpg", tub=12, taken_at=_at(4, 5, 11, 2), water=_milk(6.0),
              bone=_fox(0.15, 0.18), verdict="good", note="nearly clear; the last patches"),
        Scene(file="11_tub14_april.jpg", tub=14, taken_at=_at(4, 5, 11, 6), water=_milk(45.0),
              bone=_coyote(0.40, 0.35), verdict="good", note="down into the jar's range",
              exposure=1.05),
        Scene(file="12_tub12_may.jpg", tub=12, taken_at=_at(5, 24, 10, 40), water=_milk(1.2),
              bone=_fox(0.0, 0.0), verdict="good", note="clear, bone clean: done"),
        Scene(file="13_tub17_may.jpg", tub=17, taken_at=_at(5, 24, 10, 44),
              water=_milk(3.5, 0.85), bone=_marten(0.0, 0.15), verdict="good",
              note="clear water over a bone that still has a patch"),
    )  # fmt: skip
