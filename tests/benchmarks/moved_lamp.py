"""Waters read by the reference of another lamp: what becomes of a lamp that was moved since.

Run ``python -m tests.benchmarks.moved_lamp [LAMP ...]``: path-traced stands as in `water_lamps`,
the reference under each lamp and the waters under every other one, through the plain camera; all
lamps but those that no reference is accepted of, or those named.
"""

from __future__ import annotations

import sys
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from functools import cache, partial
from multiprocessing import get_context
from pathlib import Path
from tempfile import TemporaryDirectory

from greasecheck.measure.reading import ReadSettings, view_photo
from greasecheck.measure.water.attenuation import Jar
from greasecheck.measure.workers import begin_worker
from greasecheck.model import Verdict
from tests.benchmarks.water_lamps import (
    OUTSIDE,
    PATH_MM,
    PLAIN,
    SETS,
    Result,
    light_of,
    line,
    reference,
    take,
)
from tests.synthetic.path_tracer.series import Case, cases

LAMPS = tuple(
    lamp for name in ("judged", "fresh", "fitted") for lamp in SETS[name] if lamp not in OUTSIDE
)


@cache
def stands(lamp: str) -> tuple[Case, ...]:
    """Return the stands under a lamp, that with clear water first."""
    return tuple(case for case in cases() if case.light == lamp)


def photographed(folder: Path, lamp: str) -> list[Path]:
    """Photograph all waters under a lamp."""
    own = folder / lamp.replace(" ", "_")
    own.mkdir()
    return [
        take(light_of(case), PLAIN, case.number, own, f"water{case.number}")
        for case in stands(lamp)[1:]
    ]


def read_by(folder: Path, photos: dict[str, list[Path]], lamp: str) -> list[Result]:
    """Read the waters of all other lamps by the reference of one."""
    own = folder / f"{lamp.replace(' ', '_')}_clear"
    own.mkdir()
    clear = reference(light_of(stands(lamp)[0]), PLAIN, own)
    settings = ReadSettings(jar=Jar(clear=clear, path_mm=PATH_MM))
    return [
        Result(variant=lamp, case=case, reading=view_photo(path, settings).reading)
        for other, paths in photos.items()
        if other != lamp
        for case, path in zip(stands(other)[1:], paths, strict=True)
    ]


def main(*names: str) -> None:
    """Print the verdicts, then what was called good, the farthest off first."""
    lamps = names or LAMPS
    with (
        TemporaryDirectory() as name,
        ProcessPoolExecutor(mp_context=get_context("spawn"), initializer=begin_worker) as pool,
    ):
        folder = Path(name)
        photos = dict(zip(lamps, pool.map(partial(photographed, folder), lamps), strict=True))
        found = [one for some in pool.map(partial(read_by, folder, photos), lamps) for one in some]
    verdicts = Counter(str(one.reading.verdict) for one in found)
    good = [one for one in found if one.reading.verdict is Verdict.GOOD]
    for one in sorted(good, key=lambda one: -abs(one.error_std)):
        print(f"reference: {one.variant:17s} water: {line(one)}")
    beyond = [sum(abs(one.error_std) > errors for one in good) for errors in (2, 3)]
    print(f"{len(found)} readings: {dict(verdicts)}; good and beyond 2 and 3 errors: {beyond}")


if __name__ == "__main__":
    main(*sys.argv[1:])
