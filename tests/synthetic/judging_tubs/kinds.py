"""What is odd about a judging tub: its bone, its water, or who keeps and reads it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from tests.synthetic.judging_tubs.stores import Law


class JudgingKind(StrEnum):
    """What is odd about a judging tub."""

    CHAIN = "stores in a row"
    STRETCHED = "stretched exponential"
    GAMMA = "gamma-distributed rates"
    SATURATING = "saturated surface"
    HELD = "a held part"
    TISSUE = "tissue clouds the first weeks"
    TIRED = "soap spends itself"
    HEATER = "heater off for days"
    REACTIVE = "changed when cloudy"
    SLACKENING = "changed ever less often"
    WEEKENDS = "read on weekends"
    DRIFTING = "readings drift"
    FORGETFUL = "changes forgotten or logged late"
    PAIR = "two species together"
    SLOWER = "really 1.4 times slower"
    FAT = "fat animals, so entered"


@dataclass(frozen=True, slots=True, kw_only=True)
class Odds:
    """How a kind differs from the usual judging tub.

    Attributes
    ----------
    laws : tuple of Law
        The bone's law is one of these.
    pace : float
        Time until done over what the species table lets expect.
    tissue_per_m : float
        Haze that remains of tissue give off in the first weeks [1/m].
    spent_share : float
        Part of the pace that is lost as a bath's soap is spent, 0 to 1.
    heater_off : bool
        Whether the heater once fails for days, unlogged.
    habit : str
        How the water is changed: "steady", "reactive" or "slackening".
    weekends : bool
        Whether readings are taken on weekends alone.
    drift_log_std : float
        Of the readings' gain, over a month, natural log.
    forgotten, late : float
        Probability of a change not to be logged, and to be logged a day late.
    skulls : int
        In the tub.
    fat : bool
        Whether the animals are entered as fat and take 1.3 times as long.
    """

    laws: tuple[Law, ...] = tuple(Law)
    pace: float = 1.0
    tissue_per_m: float = 0.0
    spent_share: float = 0.0
    heater_off: bool = False
    habit: str = "steady"
    weekends: bool = False
    drift_log_std: float = 0.03
    forgotten: float = 0.03
    late: float = 0.0
    skulls: int = 1
    fat: bool = False


ODDS = {
    JudgingKind.CHAIN: Odds(laws=(Law.CHAIN,)),
    JudgingKind.STRETCHED: Odds(laws=(Law.STRETCHED,)),
    JudgingKind.GAMMA: Odds(laws=(Law.GAMMA,)),
    JudgingKind.SATURATING: Odds(laws=(Law.SATURATING,)),
    JudgingKind.HELD: Odds(laws=(Law.HELD,)),
    JudgingKind.TISSUE: Odds(tissue_per_m=80.0),
    JudgingKind.TIRED: Odds(spent_share=0.5),
    JudgingKind.HEATER: Odds(heater_off=True),
    JudgingKind.REACTIVE: Odds(habit="reactive"),
    JudgingKind.SLACKENING: Odds(habit="slackening"),
    JudgingKind.WEEKENDS: Odds(weekends=True),
    JudgingKind.DRIFTING: Odds(drift_log_std=0.15),
    JudgingKind.FORGETFUL: Odds(forgotten=0.12, late=0.12),
    JudgingKind.PAIR: Odds(skulls=2),
    JudgingKind.SLOWER: Odds(pace=1.4),
    JudgingKind.FAT: Odds(fat=True, pace=1.3),
}
