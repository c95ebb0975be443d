"""Kinds of truth: what is odd about a tub, its bone, its water or its keeper."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from tests.synthetic.tubs.bones import Law


class Kind(StrEnum):
    """What is odd about a tub."""

    PLAIN = "nothing odd"
    PLATES = "mixed thickness"
    DELAYED = "lag"
    STEEP = "steep start"
    S_SHAPED = "S-shaped release"
    CORE = "shrinking core"
    BLOOM = "bloom in old warm water"
    FOAM = "foam"
    EVAPORATION = "evaporation, topped up"
    THERMOSTAT = "cycling thermostat"
    DOSE = "dose of soap +-30 %"
    PARTIAL = "partial changes, half of them told"
    UNLOGGED = "15 % of changes unlogged"
    MOVED_OUT = "one of two skulls moved out"
    MOVED_IN = "came from another tub"
    SEVERAL = "several skulls"
    SLOW_TABLE = "really 1.5 times slower"
    QUICK_TABLE = "really 1.5 times quicker"


@dataclass(frozen=True, slots=True, kw_only=True)
class Oddity:
    """How a kind differs from a plain tub.

    Attributes
    ----------
    laws : tuple of Law
        The bone's law is one of these.
    pace : float
        Time until done over what the species table lets expect.
    bloom : bool
        Haze that grows in old warm water.
    foam_probability : float
        Of a reading through foam.
    evaporation_per_day : tuple of float
        Least and most share of the water lost a day.
    swing_c : float
        Amplitude of slow, unlogged swings of the bath's temperature [degrees C].
    dose_log_std : float
        Scatter of the soap from bath to bath, natural log.
    partial_probability, unlogged_probability : float
        Of a change to be half a change, and not to be logged.
    skulls : tuple of int
        Least and most skulls.
    """

    laws: tuple[Law, ...] = (Law.POOLS, Law.PLATES, Law.BALL)
    pace: float = 1.0
    bloom: bool = False
    foam_probability: float = 0.02
    evaporation_per_day: tuple[float, float] = (0.0, 0.0)
    swing_c: float = 0.0
    dose_log_std: float = 0.08
    partial_probability: float = 0.0
    unlogged_probability: float = 0.02
    skulls: tuple[int, int] = field(default=(1, 1))


ODDITIES = {
    Kind.PLAIN: Oddity(),
    Kind.PLATES: Oddity(laws=(Law.PLATES,)),
    Kind.DELAYED: Oddity(laws=(Law.DELAYED,)),
    Kind.STEEP: Oddity(laws=(Law.STEEP,)),
    Kind.S_SHAPED: Oddity(laws=(Law.S_SHAPED,)),
    Kind.CORE: Oddity(laws=(Law.CORE,)),
    Kind.BLOOM: Oddity(bloom=True),
    Kind.FOAM: Oddity(foam_probability=0.15),
    Kind.EVAPORATION: Oddity(evaporation_per_day=(0.01, 0.05)),
    Kind.THERMOSTAT: Oddity(swing_c=6.0),
    Kind.DOSE: Oddity(dose_log_std=0.3),
    Kind.PARTIAL: Oddity(partial_probability=0.4),
    Kind.UNLOGGED: Oddity(unlogged_probability=0.15),
    Kind.MOVED_OUT: Oddity(skulls=(2, 2)),
    Kind.MOVED_IN: Oddity(),
    Kind.SEVERAL: Oddity(skulls=(2, 3)),
    Kind.SLOW_TABLE: Oddity(pace=1.5),
    Kind.QUICK_TABLE: Oddity(pace=1 / 1.5),
}
