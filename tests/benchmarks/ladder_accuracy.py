"""How well ladders tell the haze of path-traced tubs from photos.

Run as ``python -m tests.benchmarks.ladder_accuracy [PHOTOS]``: renders that many photos of 1 to 6
ladders, reads them, and prints errors by haze, coverage, and what the checks pass. None of the
tubs served to derive a constant. Then the same in waters of kinds that served for none either, with
prints as uneven as stated errors allow for, photos spoilt in twelve ways, and hand-held views of
one tub.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure import read_all
from greasecheck.measure.workers import begin_worker
from greasecheck.model import Bound, Verdict
from tests.synthetic.ladder_light.photos import FIRST_TUB, named, random_shooting, write_photo
from tests.synthetic.ladder_light.spoils import SPOILS, uneven_print, unspoilt

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from greasecheck.model import Reading
    from tests.synthetic.ladder_light.compose import Shooting
    from tests.synthetic.ladder_light.photos import PlannedPhoto
    from tests.synthetic.ladder_light.spoils import Spoiler

AT = datetime(2026, 3, 4, 18, 5, tzinfo=UTC)
BANDS = ((0.5, 1), (1, 3), (3, 10), (10, 30), (30, 60), (60, 100))
LOCAL = 0.3
MURKIEST_SPOILT = 60.0


@dataclass(frozen=True, slots=True)
class Judged:
    """A reading beside its truth."""

    kind: str
    truth_per_m: float
    reading: Reading

    @property
    def z(self) -> float:
        """Return the error in standard errors; of a bound, 0 when it holds, otherwise 9."""
        water = self.reading.water
        assert water is not None
        if water.bound is None:
            return (water.main_per_m - self.truth_per_m) / water.std_per_m
        above = water.bound is Bound.ABOVE
        holds = (
            self.truth_per_m >= water.main_per_m if above else self.truth_per_m <= water.main_per_m
        )
        return 0.0 if holds else 9.0


def judged(photo: PlannedPhoto, readings: Sequence[Reading]) -> Iterator[Judged]:
    """Pair the readings of a photo with the truth by their tags."""
    for one in readings:
        if one.tub is not None and one.water is not None:
            place = one.tub - FIRST_TUB
            water = photo.plan.ladders[place].water
            yield Judged(water.kind, photo.hazes_per_m[place], one)


def read_each(
    photos: Sequence[PlannedPhoto],
    *,
    spoil: Spoiler = unspoilt,
    local: float = 0.0,
    seed: int = 1,
) -> list[list[Judged]]:
    """Render and read photos on all cores, each taken in its own way."""
    rng = np.random.default_rng(seed)
    shootings = [random_shooting(rng, local=local) for _ in photos]
    pairs = enumerate(zip(photos, shootings, strict=True))
    return run([Task(photo, spoil, shooting, number) for number, (photo, shooting) in pairs])


def read_photos(
    photos: Sequence[PlannedPhoto],
    *,
    spoil: Spoiler = unspoilt,
    local: float = 0.0,
    seed: int = 1,
) -> list[Judged]:
    """Return the readings of all photos."""
    each = read_each(photos, spoil=spoil, local=local, seed=seed)
    return [one for found in each for one in found]


@dataclass(frozen=True, slots=True)
class Task:
    """A photo to render and read: how it is spoilt, by a seed, and taken."""

    photo: PlannedPhoto
    spoil: Spoiler
    shooting: Shooting
    seed: int


def run(tasks: Sequence[Task]) -> list[list[Judged]]:
    """Do tasks on all cores, in order."""
    with ProcessPoolExecutor(mp_context=get_context("spawn"), initializer=begin_worker) as pool:
        return list(pool.map(do_task, tasks))


def do_task(task: Task) -> list[Judged]:
    """Render and read one photo."""
    rng = np.random.default_rng(task.seed)
    made = [task.spoil(rng, task.shooting) for _ in task.photo.plan.ladders]
    with tempfile.TemporaryDirectory() as name:
        path = write_photo(
            Path(name) / "one.jpg",
            task.photo,
            made[0][1],
            at=AT,
            spoils=[spoil for spoil, _ in made],
        )
        return list(judged(task.photo, read_all(path)))


def print_bands(found: Sequence[Judged]) -> None:
    """Print errors of the good readings by haze, then coverage of all good ones."""
    good = [one for one in found if one.reading.verdict is Verdict.GOOD]
    verdicts = Counter(str(one.reading.verdict) for one in found)
    print(f"{len(found)} readings: {dict(verdicts)}")
    print("haze [1/m]   good  bounds  median error  rms [1/m]  4 of 5 within  over stated errors")
    for low, high in BANDS:
        rows = [one for one in good if low <= one.truth_per_m < high]
        values = [
            (one.reading.water.main_per_m, one.truth_per_m)
            for one in rows
            if one.reading.water is not None and one.reading.water.bound is None
        ]
        if values:
            read, true = np.array(values).T
            share = np.log(read / true)
            over = np.array([one.z for one in rows])
            print(
                f"{low:4g} to {high:<4g} {len(rows):5d} {len(rows) - len(values):6d}"
                f" {np.median(share):+12.1%} {np.sqrt(np.mean((read - true) ** 2)):11.2f}"
                f" {np.percentile(np.abs(share), 80):12.1%}"
                f"  rms {np.sqrt(np.mean(over**2)):.2f}, {np.mean(np.abs(over) <= 2):.0%} within 2"
            )
    z = np.abs([one.z for one in good])
    if len(z):
        print(
            f"good: within 2 errors {np.mean(z <= 2):.1%}, beyond 3 {np.mean(z > 3):.1%},"
            f" beyond 5 {np.mean(z > 5):.1%}"
        )


def print_spoilt(count: int) -> None:
    """Print what becomes of photos spoilt in twelve ways."""
    alone = [
        photo
        for photo in named("single")
        if len(photo.plan.ladders) == 1 and photo.hazes_per_m[0] < MURKIEST_SPOILT
    ]
    wrong = total = 0
    rng = np.random.default_rng(7)
    for what, spoil in SPOILS.items():
        chosen = rng.choice(len(alone), count, replace=False)
        found = run([Task(alone[n], spoil, random_shooting(rng), int(n)) for n in chosen])
        rows = [one for readings in found for one in readings]
        verdicts = Counter(str(one.reading.verdict) for one in rows)
        bad = sum(one.reading.verdict is Verdict.GOOD and abs(one.z) > 3 for one in rows)
        wrong, total = wrong + bad, total + count
        print(f"{what:12s} read {len(rows)} of {count} {dict(verdicts)}, good and wrong {bad}")
    print(f"spoilt: {wrong} of {total} good and wrong beyond 3 errors")


def print_views() -> None:
    """Print the scatter of hand-held views of the same tubs."""
    views = named("views")
    for tub in sorted({photo.plan.name[:6] for photo in views}):
        found = read_photos([photo for photo in views if photo.plan.name.startswith(tub)])
        good = [one for one in found if one.reading.verdict is Verdict.GOOD]
        water = [one.reading.water for one in good if one.reading.water is not None]
        read = np.array([one.main_per_m for one in water if one.bound is None])
        stated = np.array([one.std_per_m for one in water if one.bound is None])
        if len(read) > 1:
            print(
                f"{tub}: truth {found[0].truth_per_m:.2f}, {len(read)} good of {len(found)},"
                f" mean {read.mean():.2f}, scatter {read.std(ddof=1):.2f},"
                f" stated {stated.mean():.2f}"
            )


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 170
    print_bands(read_photos(named("single")[:number]))
    print("\nin waters of one lobe and any albedo, grey or tinted")
    print_bands(read_photos(named("strange")[:number]))
    print("\nprinted as unevenly as stated errors allow for")
    print_bands(read_photos(named("single")[:number], spoil=uneven_print))
    print(f"\nthrough a camera that maps tones locally ({LOCAL:.0%} of the base)")
    print_bands(read_photos(named("single")[: number // 4], local=LOCAL, seed=2))
    print()
    print_views()
    print()
    print_spoilt(max(number // 7, 2))
