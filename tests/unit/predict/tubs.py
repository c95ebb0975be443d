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


def fading_tub(
    days: int,
    *,
    every: int = 3,
    half_life: float = 20.0,
    broken: tuple[int, int] = (0, 0),
    share: float = 1.0,
) -> TubHistory:
    """Return a deer's tub whose daily readings saw up to a rise that halves every 20 days.

    Between two `broken` days it rises by a share of that alone, and keeps the grease meanwhile.
    """
    changes = tuple(WaterChange(at=day(d), temperature_c=40.0) for d in range(0, days, every))
    spans = [share if broken[0] <= d < broken[1] else 1.0 for d in range(days)]
    soaked = [sum(spans[:d]) for d in range(days)]
    rise = [10.0 * spans[d] * 0.5 ** (soaked[d] / half_life) for d in range(days)]
    readings = tuple(reading(d + 0.9, 1.5 + sum(rise[d - d % every : d + 1])) for d in range(days))
    return TubHistory(
        skulls=(SoakingSkull(name="buck", species="deer", since=START),),
        changes=changes,
        readings=readings,
    )
