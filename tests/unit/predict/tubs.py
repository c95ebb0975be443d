"""Plain tubs for unit tests."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from greasecheck.predict.records import (
    HazeReading,
    SoakingSkull,
    TubHistory,
    WaterChange,
)

START = datetime(2026, 1, 5, 8, tzinfo=UTC)


def day(days: float) -> datetime:
    """Return the time `days` after the start."""
    return START + timedelta(days=days)


def reading(days: float, haze: float, std: float = 0.3) -> HazeReading:
    """Return a good reading."""
    return HazeReading(at=day(days), attenuation_per_m=haze, std_per_m=std)


def fading_tub(days: int, *, every: int = 3, half_life: float = 20.0) -> TubHistory:
    """Return a deer's tub whose daily readings saw up to a rise that halves every 20 days."""
    changes = tuple(WaterChange(at=day(d), temperature_c=40.0) for d in range(0, days, every))
    rise = [10.0 * 0.5 ** (d / half_life) for d in range(days)]
    readings = tuple(reading(d + 0.9, 1.5 + sum(rise[d - d % every : d + 1])) for d in range(days))
    return TubHistory(
        skulls=(SoakingSkull(name="buck", species="deer", since=START),),
        changes=changes,
        readings=readings,
    )
