"""How well ladders that their tub calibrates tell the haze of clear water.

Run as ``python -m tests.benchmarks.ladder_series``: renders and reads the photos of tubs that keep
light and kind of water from 40 to 0.5 per metre, and prints errors by haze: of ladders that nothing
calibrates, that their own murky readings do, and that one jar does, dipped an hour after the photo
of 3 per metre and read within 5 %.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.garage.ladder.gain import is_murky, ladder_gain, with_gain
from greasecheck.model import ReadingKind, Verdict
from tests.benchmarks.ladder_accuracy import AT, read_each
from tests.synthetic.ladder_light.photo_plan import SERIES_HAZE
from tests.synthetic.ladder_light.photos import named
from tests.unit.report.season_samples import logged

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from greasecheck.logbook.records import LoggedReading
    from greasecheck.model import Reading

JAR_STEP, JAR_LOG_STD = 4, 0.05
WAYS = ("by nothing", "by itself", "by a jar")


@dataclass(frozen=True, slots=True)
class Step:
    """A reading of a tub's series: which of its hazes, the truth, and what would be logged."""

    number: int
    truth_per_m: float
    logged: LoggedReading


def as_logged(reading: Reading, number: int) -> LoggedReading:
    """Return a ladder's reading as the logbook holds it, a day after the one before it."""
    water, ladder = reading.water, reading.ladder
    assert water is not None
    return replace(
        logged(bone=None),
        key=f"{number}:ladder",
        kind=ReadingKind.LADDER,
        verdict=reading.verdict,
        taken_at=AT + timedelta(days=number),
        attenuation_per_m=water.main_per_m,
        attenuation_std_per_m=water.std_per_m,
        bound=water.bound,
        decay_per_m=ladder.decay_per_m if ladder else None,
        decay_std_per_m=ladder.decay_std_per_m if ladder else None,
    )


def series() -> list[list[Step]]:
    """Render and read all tubs."""
    tubs: dict[str, list[Step]] = {}
    photos = named("series")
    for photo, found in zip(photos, read_each(photos), strict=True):
        name, number = photo.plan.name.split("_")
        tubs.setdefault(name, []).extend(
            Step(int(number), one.truth_per_m, as_logged(one.reading, int(number)))
            for one in found
            if one.reading.verdict is not Verdict.REFUSED
        )
    return list(tubs.values())


def jar_at(step: Step, rng: np.random.Generator) -> LoggedReading:
    """Return what a jar dipped an hour after a photo reads."""
    return replace(
        logged(haze=step.truth_per_m * float(np.exp(JAR_LOG_STD * rng.standard_normal()))),
        key="jar",
        attenuation_std_per_m=JAR_LOG_STD * step.truth_per_m,
        taken_at=step.logged.taken_at + timedelta(hours=1),
    )


def calibrated(tub: Sequence[Step], way: str, rng: np.random.Generator) -> Iterator[np.ndarray]:
    """Yield step, haze, truth and stated error of the good readings that a gain calibrates."""
    readings = [step.logged for step in tub]
    if way != "by itself":
        readings = [one for one in readings if not is_murky(one)]
    if way == "by a jar":
        readings += [jar_at(step, rng) for step in tub if step.number == JAR_STEP]
    gain = ladder_gain(readings)
    if (way == "by itself" and not gain.murky) or (way == "by a jar" and not gain.jars):
        return
    for step in tub:
        one = with_gain(step.logged, gain)
        haze, std = one.attenuation_per_m or 0.0, one.attenuation_std_per_m or 0.0
        if one.verdict is Verdict.GOOD and one.bound is None and not is_murky(step.logged):
            shared = haze * gain.at(one.decay_per_m or 0.0)[1]
            yield np.array([step.number, haze, step.truth_per_m, np.hypot(std, shared)])


def print_series(tubs: Sequence[Sequence[Step]]) -> None:
    """Print errors by haze, for each way to calibrate."""
    for way in WAYS:
        rng = np.random.default_rng(1)
        found = np.array([row for tub in tubs for row in calibrated(tub, way, rng)])
        number, haze, truth, std = found.T
        print(f"calibrated {way}: {len(found)} readings, two errors cover"
              f" {np.mean(np.abs(haze - truth) <= 2 * std):.1%}")  # fmt: skip
        for step, usual in enumerate(SERIES_HAZE):
            own = number == step
            if own.sum() > 5:
                miss = (haze - truth)[own]
                print(
                    f"{usual:5g} per m {own.sum():3d} rms {np.sqrt(np.mean(miss**2)):.3f}"
                    f" stated {np.sqrt(np.mean(std[own] ** 2)):.3f} per m,"
                    f" median {np.median(miss / truth[own]):+.1%}"
                )


if __name__ == "__main__":
    print_series(series())
