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
    modes_of,
    run_events,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import FloatArray
    from greasecheck.predict.model.draws import Bloom, Draws
    from greasecheck.predict.model.timeline import Calendar, Moments, Timeline

# Growth ends where food or air does; twice as much changes only baths that are milk already.
BLOOM_TOP_PER_M = 30.0
LITTLE_PER_M = 0.05  # less than any reading tells
MOST_KEPT = 1 - 1e-6  # of the water at a change: keeps what would grow without end finite


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
        Days of the reference bath per day under each condition.
    soaked, counted : ndarray, shape (events, draws)
        Days of the reference bath up to each event, and what they are worth at full pace.
    after : ndarray, shape (events, modes, draws)
        Mode weights just after each event.
    alive_per_m : ndarray, shape (fillings, draws)
        What of all that grows in the water is in each filling at once [1/m].
    """

    draws: Draws
    modes: Modes
    speed: FloatArray
    soaked: FloatArray
    counted: FloatArray
    after: FloatArray
    alive_per_m: FloatArray

    def picked(self, columns: NDArray[np.intp]) -> Course:
        """Return the course of some draws, which may come several times."""
        return Course(
            draws=self.draws.picked(columns),
            modes=self.modes.picked(columns),
            speed=self.speed.take(columns, axis=-1),
            soaked=self.soaked.take(columns, axis=-1),
            counted=self.counted.take(columns, axis=-1),
            after=self.after.take(columns, axis=-1),
            alive_per_m=self.alive_per_m.take(columns, axis=-1),
        )

    def weights(self, moments: Moments) -> FloatArray:
        """Return the mode weights at `moments`, shape (moments, modes, draws)."""
        end = self.soaked[moments.event] + moments.exposure_days @ self.speed
        weights = decay(self.modes, self.draws.tempo.counted(end) - self.counted[moments.event])
        weights *= self.after[moments.event]
        return weights

    def rise_per_m(self, moments: Moments) -> FloatArray:
        """Return the grease haze of the bath at `moments`, shape (moments, draws) [1/m]."""
        return bath_haze(self.modes, self.weights(moments))

    def bloom_per_m(self, moments: Moments) -> FloatArray:
        """Return what has grown in the bath at `moments`, shape (moments, draws) [1/m]."""
        bloom = self.draws.bloom
        growth = bloom.growth(moments.bath_age_days)
        return _capped(self.alive_per_m[moments.bath] * growth - bloom.seed_per_m)

    def haze_per_m(self, moments: Moments) -> FloatArray:
        """Return the bath's haze at `moments`, shape (moments, draws) [1/m]."""
        fresh = self.draws.fresh_per_m[moments.recipe]
        return fresh + self.rise_per_m(moments) + self.bloom_per_m(moments)


def _alive(calendar: Calendar, bloom: Bloom, kept: FloatArray) -> FloatArray:
    """Return what of all that grows is in each filling at once, shape (fillings, draws) [1/m].

    What is in all fresh water, and what leftover water carries on: a share r of x = B / (1 - B/T),
    T being the top, is worth r x / (1 + (1 - r) x/T). It is followed only where it would add up.
    """
    fillings = calendar.event_days[calendar.changed]
    rest = np.minimum(kept[calendar.changed], MOST_KEPT)
    growth = bloom.growth(np.diff(fillings, append=calendar.now_days))
    alive = np.tile(bloom.seed_per_m, (len(fillings), 1))
    stays = rest[1:] * growth[:-1]
    carried = stays.max(axis=0, initial=0.0)
    if np.all(carried * ((alive * growth).max(axis=0) + LITTLE_PER_M) < LITTLE_PER_M):
        return alive
    of_top = (1 - rest[1:]) * growth[:-1] / BLOOM_TOP_PER_M
    before = alive[0]
    for stay, top, after in zip(stays, of_top, alive[1:], strict=True):
        before = np.add(after, stay * before / (1 + top * before), out=after)
    return alive


def _capped(grown_per_m: FloatArray) -> FloatArray:
    capped: FloatArray = grown_per_m / (1 + grown_per_m / BLOOM_TOP_PER_M)
    return capped


def pace(calendar: Calendar, draws: Draws) -> FloatArray:
    """Return days of the reference bath per day under each condition, (conditions, draws)."""
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
    kept = np.where(np.isnan(logged), draws.carry_over, logged)
    soaked = np.cumsum(timeline.gaps_days @ speed, axis=0)
    counted = draws.tempo.counted(soaked)
    events = Events(
        gaps_days=np.diff(counted, axis=0, prepend=0.0),
        kept=kept,
        enters=calendar.enters,
        leaves=calendar.leaves,
    )
    return Course(
        draws=draws,
        modes=modes,
        speed=speed,
        soaked=soaked,
        counted=counted,
        after=run_events(modes, events, _on_entry(timeline, draws, speed)),
        alive_per_m=_alive(calendar, draws.bloom, kept),
    )


def _on_entry(timeline: Timeline, draws: Draws, speed: FloatArray) -> FloatArray:
    """Return the grease of each skull as it goes in: less what it gave off in other tubs."""
    if not timeline.soaked_before_days.any():
        return draws.grease_per_m
    before = (timeline.soaked_before_days @ speed)[:, None, :]
    skulls, pools, _ = draws.grease_per_m.shape
    rates = draws.network.rates_per_day.reshape(skulls, pools, -1)
    rest: FloatArray = draws.grease_per_m * np.exp(-rates * before)
    return rest
