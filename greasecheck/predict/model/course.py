"""The course of a tub under many parameter draws."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.model.arrhenius import rate_factor
from greasecheck.predict.model.leaching import (
    Events,
    Modes,
    bath_haze,
    decay,
    entry_weights,
    modes_of,
    run_events,
)

if TYPE_CHECKING:
    from greasecheck.model import FloatArray
    from greasecheck.predict.model.draws import Draws
    from greasecheck.predict.model.timeline import Calendar, Moments, Timeline


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """The course of a tub under many draws.

    Attributes
    ----------
    draws : Draws
        The parameters.
    modes : Modes
        Eigenmodes.
    speed : ndarray, shape (conditions, draws)
        Effective days per day under each condition.
    after : ndarray, shape (events, modes, draws)
        Mode weights just after each event.
    """

    draws: Draws
    modes: Modes
    speed: FloatArray
    after: FloatArray

    def thinned(self, every: int) -> Course:
        """Return the course of each `every`-th draw."""
        return Course(
            draws=self.draws.thinned(every),
            modes=self.modes.thinned(every),
            speed=self.speed[:, ::every],
            after=self.after[..., ::every],
        )

    def weights(self, moments: Moments) -> FloatArray:
        """Return the mode weights at `moments`, shape (moments, modes, draws)."""
        since = decay(self.modes, moments.exposure_days @ self.speed)
        return self.after[moments.event] * since

    def haze_per_m(self, moments: Moments) -> FloatArray:
        """Return the bath's haze at `moments`, shape (moments, draws) [1/m]."""
        return self.draws.fresh_per_m[moments.recipe] + bath_haze(self.modes, self.weights(moments))


def pace(calendar: Calendar, draws: Draws) -> FloatArray:
    """Return effective days per day under each condition, shape (conditions, draws)."""
    rows = [
        rate_factor(condition.temperature_c, draws.activation_kj_per_mol)
        * draws.rate_ratio[calendar.recipes.index(condition.recipe)]
        for condition in calendar.steps.conditions
    ]
    return np.stack(rows)


def run_course(timeline: Timeline, draws: Draws) -> Course:
    """Return what `draws` expect of the tub."""
    calendar, modes = timeline.calendar, modes_of(draws.network)
    speed = pace(calendar, draws)
    logged = calendar.carry_over[:, None]
    events = Events(
        gaps_days=timeline.gaps_days @ speed,
        kept=np.where(np.isnan(logged), draws.carry_over, logged),
        loads=calendar.loads,
    )
    return Course(
        draws=draws,
        modes=modes,
        speed=speed,
        after=run_events(modes, events, entry_weights(modes, draws.grease_per_m)),
    )
