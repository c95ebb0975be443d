"""Writes the simulated log of the invented season as CSV files that the logbook takes in.

Run it from the repository: `python -m sample_images.season_log`.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import time
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.logbook.store.tables import BATHS, FOLLOW_UPS, READINGS, SKULL_EVENTS, SKULLS, TUBS
from greasecheck.logbook.store.times import to_text
from greasecheck.model import BoneState, ReadingKind, Recipe
from greasecheck.stages import EventKind
from sample_images import season_story as story
from sample_images.season_water import LEVEL_STD_MM, YI_STD, begin, end, local, look, run

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from datetime import date, datetime

    from greasecheck.logbook.store.columns import Value
    from greasecheck.logbook.store.table import Table
    from sample_images.season_story import Owned, Soak
    from sample_images.season_water import Course, Seen

    Row = Mapping[str, Value]

SEED = 20260525
FOLDER = Path(__file__).parent / "season"
TRUTH = Path(__file__).parent / "season_truth.csv"
SIMULATED = "simulated"
STEP_AT, SEEN_AT = time(12), time(16)
STRENGTH_PERCENT, WHITENING_H = 12.0, 18.0
HEADER = {
    "title": "the invented season: {}",
    "source": "python -m sample_images.season_log (simulated by sample_images/leaching.py, "
    "nothing was measured)",
    "author": "the greasecheck founders",
    "year": "2026",
    "doi": "none: simulated",
    "licence": "MIT",
}
LOG_UNITS = "as 'greasecheck book columns' tells"
TRUTH_UNITS = (
    "pace in 1 against soap at 40 degrees C; degreased_at is when less than a tenth "
    "of all grease is in the bones, the soak going on; grease_left in 1 at until"
)
TRUTH_NAMES = (
    "tub", "skulls", "since", "until", "recipe", "form", "pace", "degreased_at",
    "grease_left", "fault",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class SoakLog:
    """A soak as it really went, and what was read of it."""

    course: Course
    seen: tuple[Seen, ...]


def simulate() -> tuple[SoakLog, ...]:
    """Let all soaks of the story happen, each with random numbers of its own."""
    return tuple(
        _simulate(soak, np.random.default_rng([SEED, index]))
        for index, soak in enumerate(story.SOAKS)
    )


def _simulate(soak: Soak, generator: np.random.Generator) -> SoakLog:
    course = run(soak, generator)
    return SoakLog(course=course, seen=tuple(look(course, generator)))


def files(logs: Sequence[SoakLog]) -> dict[Path, str]:
    """Return the content of each file of the log, and that of the table of what is true."""
    tables: dict[Table, Iterable[Row]] = {
        TUBS: _tubs(),
        BATHS: _baths(logs),
        SKULLS: _skulls(),
        SKULL_EVENTS: _events(),
        READINGS: _readings(logs),
        FOLLOW_UPS: _follow_ups(),
    }
    log = {
        FOLDER / f"{table.name}.csv": _log_text(table, tuple(rows))
        for table, rows in tables.items()
    }
    return {
        **log,
        TRUTH: csv_text(header("what is true", TRUTH_UNITS), TRUTH_NAMES, map(_truth, logs)),
    }


def _tubs() -> Iterator[Row]:
    for number, name in story.TUB_NAMES.items():
        first = min(begin(soak) for soak in story.SOAKS if soak.tub == number)
        yield {
            "number": number,
            "name": name,
            "volume_l": float(story.TUB_VOLUMES_L[number]),
            "started_at": to_text(first),
            "checked_at": to_text(well) if (well := story.FOUND_WELL.get(number)) else None,
            "note": SIMULATED,
        }


def _baths(logs: Sequence[SoakLog]) -> Iterator[Row]:
    for log in logs:
        soak = log.course.soak
        logged = log.course.changes[: -1 if soak.forgotten else None]
        for at in logged:
            yield {
                "tub": soak.tub,
                "filled_at": to_text(at),
                "dumped_at": to_text(end(soak)) if soak.end and at == logged[-1] else None,
                "recipe": soak.recipe,
                "temperature_c": float(soak.temperature_c),
                "note": SIMULATED,
            }
    yield from _rinses()


def _rinses() -> Iterator[Row]:
    """Yield the clean water in which skulls soak after whitening."""
    for skull in story.SKULLS:
        if skull.resoaked:
            yield {
                "tub": _soak_of(skull.name).tub,
                "filled_at": to_text(local(skull.resoaked, STEP_AT)),
                "dumped_at": to_text(local(skull.dried, STEP_AT)) if skull.dried else None,
                "recipe": Recipe.WATER,
                "note": SIMULATED,
            }


def _soak_of(name: str) -> Soak:
    return next(soak for soak in story.SOAKS if name in soak.skulls)


def _skulls() -> Iterator[Row]:
    for skull in story.SKULLS:
        yield {
            "name": skull.name,
            "species": skull.species,
            "owner": skull.owner,
            "note": SIMULATED,
        }


def _events() -> Iterator[Row]:
    for skull in story.SKULLS:
        soak = _soak_of(skull.name)
        yield _event(skull, begin(soak), EventKind.ENTERED, tub=soak.tub)
        if soak.end:
            yield _event(skull, end(soak), EventKind.DEGREASED)
        if skull.whitened:
            bath: Row = {"strength_percent": STRENGTH_PERCENT, "duration_h": WHITENING_H}
            yield {**_step(skull, skull.whitened, EventKind.WHITENED), **bath}
        if skull.resoaked:
            yield {**_step(skull, skull.resoaked, EventKind.RESOAKED), "tub": soak.tub}
        if skull.dried:
            yield _step(skull, skull.dried, EventKind.DRIED)
        if skull.returned:
            yield _step(skull, skull.returned, EventKind.RETURNED)


def _step(skull: Owned, day: date, kind: EventKind) -> Row:
    return _event(skull, local(day, STEP_AT), kind)


def _event(skull: Owned, at: datetime, kind: EventKind, tub: int | None = None) -> Row:
    return {
        "skull": skull.name,
        "happened_at": to_text(at),
        "kind": kind,
        "tub": tub,
        "note": SIMULATED,
    }


def _readings(logs: Sequence[SoakLog]) -> Iterator[Row]:
    for log in logs:
        for one in log.seen:
            common: Row = {
                "tub": log.course.soak.tub,
                "taken_at": to_text(one.at),
                "verdict": one.verdict,
                "attenuation_per_m": one.haze_per_m,
                "attenuation_std_per_m": one.haze_std_per_m,
                "bound": one.bound,
                "note": SIMULATED,
            }
            yield {**common, **(_of_ladder(one) if one.skull is None else _of_bone(one))}


def _of_bone(seen: Seen) -> Row:
    return {
        "skull": seen.skull,
        "bone_yi_e313": seen.yi_e313,
        "bone_yi_std": YI_STD,
        "bone_yellow_patch_share": seen.yellow_patch_share,
        "bone_state": BoneState.BLOTTED,
    }


def _of_ladder(seen: Seen) -> Row:
    return {
        "kind": ReadingKind.LADDER,
        "decay_per_m": seen.decay_per_m,
        "decay_std_per_m": seen.decay_std_per_m,
        "level_mm": seen.level_mm,
        "level_std_mm": LEVEL_STD_MM,
    }


def _follow_ups() -> Iterator[Row]:
    for skull in story.SKULLS:
        for day, yellowed in skull.seen:
            yield {
                "skull": skull.name,
                "seen_at": to_text(local(day, SEEN_AT)),
                "yellowed": int(yellowed),
                "note": SIMULATED,
            }


def _log_text(table: Table, rows: Sequence[Row]) -> str:
    """Return the file of a table: the columns that are used, in the logbook's order."""
    used = [column for column in table.columns if any(row.get(column.name) for row in rows)]
    cells = [
        tuple(column.written(table.cell(column.name, row.get(column.name))) for column in used)
        for row in sorted(
            rows, key=lambda row: [str(row[name]) for name in table.order if name in row]
        )
    ]
    return csv_text(header(table.meaning, LOG_UNITS), [column.name for column in used], cells)


def _truth(log: SoakLog) -> tuple[object, ...]:
    course, soak = log.course, log.course.soak
    until = end(soak)
    hours = round((until - begin(soak)).total_seconds() / 3600)
    fault = (
        f"change of {soak.forgotten} not entered"
        if soak.forgotten
        else f"heater off from {soak.heater_off}"
        if soak.heater_off
        else ""
    )
    return (
        soak.tub,
        "; ".join(soak.skulls),
        to_text(begin(soak)),
        to_text(until),
        soak.recipe,
        soak.form,
        story.RECIPE_PACES[soak.recipe],
        to_text(course.degreased_at) if course.degreased_at else "",
        f"{course.left[hours]:.4f}",
        fault,
    )


def header(title: str, units: str) -> dict[str, str]:
    """Return the header of a table of the invented season."""
    return {**HEADER, "title": HEADER["title"].format(title), "units": units}


def csv_text(
    head: Mapping[str, str], names: Sequence[str], rows: Iterable[tuple[object, ...]]
) -> str:
    """Return the text of a table with its header."""
    sheet = StringIO()
    sheet.writelines(f"# {key}: {value}\n" for key, value in head.items())
    writer = csv.writer(sheet, lineterminator="\n")
    writer.writerow(names)
    writer.writerows(rows)
    return sheet.getvalue()


def main() -> None:
    """Write the log and its truth beside this script."""
    FOLDER.mkdir(exist_ok=True)
    for path, text in files(simulate()).items():
        path.write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
