"""Ten years of twenty tubs: is the logbook still quick and small?

Run ``python -m tests.benchmarks.logbook_scale``; ``--quick`` makes a tenth of it.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import json
import math
import os
import random
import subprocess
import sys
import tempfile
import time
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING

from greasecheck.logbook.csv.read import import_tables
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.times import to_text

if TYPE_CHECKING:
    from collections.abc import Iterator

TUBS = range(10, 30)
BATH_DAYS = 10.4  # 7,000 baths in ten years of 20 tubs
BATH_LOGGED, FORGOTTEN_BATH = 0.97, 6
DAYS_WITH_READING = 0.96  # 70,000 readings in ten years
SOAK_DAYS, CYCLE_DAYS = 110, 116  # a skull's soak, and until the next one goes in
LOOKED_AT_AFTER_DAYS = 45
SPECIES = ("roe deer", "fox", "coyote", "badger")
RECIPES = ("soap", "soap+ammonia", "ammonia")
FRESH_PER_M, FIRST_GAIN_PER_M, LAST_GAIN_PER_M = 2.0, 25.0, 0.5
CHECK_NAMES = tuple(f"check_{number}" for number in range(25))


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """What was measured: sizes [MB], wall and CPU times [s]; CPU ones hold on a busy machine."""

    readings: int
    baths: int
    import_s: float
    import_cpu_s: float
    file_mb: float
    today_s: float
    today_cpu_s: float


def measure_scale(days: int) -> Scale:
    """Make a logbook of `days` days, and measure it."""
    with tempfile.TemporaryDirectory() as folder:
        tables, path = Path(folder) / "csv", Path(folder) / "season.logbook"
        tables.mkdir()
        counts = write_season(tables, days)
        start, cpu_start = time.perf_counter(), time.process_time()
        with Logbook(path, create=True) as book:
            import_tables(book, [tables])
        import_s, import_cpu_s = time.perf_counter() - start, time.process_time() - cpu_start
        today_s, today_cpu_s = min(_today_s(path) for _ in range(5))
        return Scale(
            readings=counts["readings"],
            baths=counts["baths"],
            import_s=import_s,
            import_cpu_s=import_cpu_s,
            file_mb=path.stat().st_size / 1e6,
            today_s=today_s,
            today_cpu_s=today_cpu_s,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class InventedSoak:
    """A skull's soak: its place in the tub's row of soaks, and its days of the season."""

    tub: int
    number: int
    begins: int
    ends: int

    @property
    def skull(self) -> str:
        """The name of the skull."""
        return f"skull {self.tub}-{self.number}"


def write_season(
    folder: Path, days: int, tubs: range = TUBS, readings_a_day: int = 1
) -> dict[str, int]:
    """Write the CSV files of an invented season that ends now; return the rows of each."""
    chance = random.Random(1)
    start = datetime.now(UTC) - timedelta(days=days)
    soaks = [soak for tub in tubs for soak in _soaks(tub, days)]
    rows: dict[str, list[dict[str, object]]] = {
        "tubs": [{"number": tub, "name": f"tub {tub}", "volume_l": 60.0} for tub in tubs],
        "baths": [bath for tub in tubs for bath in _baths(chance, start, days, tub)],
        "skulls": [
            {"name": soak.skull, "species": SPECIES[soak.number % len(SPECIES)]} for soak in soaks
        ],
        "skull_events": [event for soak in soaks for event in _events(start, days, soak)],
        "follow_ups": [look for soak in soaks for look in _looks(chance, start, days, soak)],
        "check_plans": [{"key": "plan", "checks": json.dumps([[n, 0.5, 0] for n in CHECK_NAMES])}],
        "readings": list(_readings(chance, start, days, tubs, readings_a_day)),
    }
    filled = {name: table for name, table in rows.items() if table}
    for name, table in filled.items():
        with (folder / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, dict.fromkeys(key for row in table for key in row))
            writer.writeheader()
            writer.writerows(table)
    return {name: len(table) for name, table in filled.items()}


def _soaks(tub: int, days: int) -> Iterator[InventedSoak]:
    """Yield the soaks of a tub one after the other; tubs are out of step."""
    first = -(17 * tub % SOAK_DAYS)
    for number, begins in enumerate(range(first, days, CYCLE_DAYS)):
        yield InventedSoak(tub=tub, number=number, begins=max(begins, 0), ends=begins + SOAK_DAYS)


def _events(start: datetime, days: int, soak: InventedSoak) -> Iterator[dict[str, object]]:
    """Yield what happened to a skull; a day is counted from the season's first."""
    end = soak.ends
    whitening: dict[str, object] = {"strength_percent": 3.0, "duration_h": 24.0}
    story: tuple[tuple[int, str, dict[str, object]], ...] = (
        (soak.begins, "entered", {"tub": soak.tub}),
        (end, "degreased", {}),
        (end + 1, "whitened", whitening),
        (end + 3, "dried", {}),
        (end + 60, "returned", {}),
    )
    for day, kind, more in story:
        if day < days:
            at = to_text(start + timedelta(days=day))
            yield {"skull": soak.skull, "happened_at": at, "kind": kind, **more}


def _looks(
    chance: random.Random, start: datetime, days: int, soak: InventedSoak
) -> Iterator[dict[str, object]]:
    day = soak.ends + LOOKED_AT_AFTER_DAYS
    if day < days:
        yield {
            "skull": soak.skull, "seen_at": to_text(start + timedelta(days=day)),
            "yellowed": "yes" if chance.random() < 0.2 else "no",
        }  # fmt: skip


def _baths(
    chance: random.Random, start: datetime, days: int, tub: int
) -> Iterator[dict[str, object]]:
    for bath in range(int(days / BATH_DAYS)):
        filled_at = start + timedelta(days=bath * BATH_DAYS, minutes=tub)
        if bath == 0 or (bath != FORGOTTEN_BATH and chance.random() < BATH_LOGGED):
            yield {
                "tub": tub, "filled_at": to_text(filled_at),
                "recipe": RECIPES[int(bath * BATH_DAYS / CYCLE_DAYS) % len(RECIPES)],
                "temperature_c": 40.0, "why": "the haze has stopped rising",
            }  # fmt: skip


def _readings(
    chance: random.Random, start: datetime, days: int, tubs: range, a_day: int
) -> Iterator[dict[str, object]]:
    for day, part, tub in product(range(days), range(a_day), tubs):
        if chance.random() > DAYS_WITH_READING:
            continue
        passed = timedelta(days=day - 1 + (part + chance.random() / 2) / a_day)
        yield _reading(chance, tub, start + passed, _haze_per_m(chance, tub, day))


def _haze_per_m(chance: random.Random, tub: int, day: int) -> float:
    """Return a haze that rises in each bath, less from bath to bath of a soak."""
    in_soak, in_bath = (day + 17 * tub % SOAK_DAYS) % CYCLE_DAYS, day % BATH_DAYS
    gain = LAST_GAIN_PER_M + FIRST_GAIN_PER_M * math.exp(-in_soak / 30)
    return FRESH_PER_M + gain * (1 - math.exp(-in_bath / 3)) + chance.gauss(0, 0.1)


def _reading(chance: random.Random, tub: int, taken_at: datetime, haze: float) -> dict[str, object]:
    checks = [round(chance.random(), 6) for _ in CHECK_NAMES]
    key = hashlib.sha256(f"{tub} {taken_at}".encode()).hexdigest()
    measured = {
        "attenuation_per_m": haze, "attenuation_std_per_m": 0.1 + chance.random() / 10,
        "attenuation_r_per_m": haze * 0.9, "attenuation_g_per_m": haze,
        "attenuation_b_per_m": haze * 1.2, "forward_scatter": chance.random(),
        "tint_yi": 20 * chance.random(), "path_mm": 60.0, "dilution": 1.0,
        "turbidity": haze * 2.1, "turbidity_std": chance.random(), "turbidity_unit": "NTU (rough)",
        "bone_yi_e313": 20 + 10 * chance.random(), "bone_yi_std": chance.random(),
        "bone_yi_spread": chance.random(), "bone_lab_l": 80 + chance.random(),
        "bone_lab_a": chance.random(), "bone_lab_b": 20 * chance.random(),
        "bone_whiteness_cie": 40 * chance.random(), "bone_tint_cie": chance.random(),
        "bone_delta_e00_clean": 5 * chance.random(), "bone_yellow_patch_share": chance.random(),
        "bone_area_mm2": 3000 * chance.random(), "colour_loo_delta_e00": chance.random(),
        "colour_clipped_share": chance.random() / 100, "colour_gradient_ratio": 1 + chance.random(),
    }  # fmt: skip
    return {
        "key": key, "tub": tub, "taken_at": to_text(taken_at), "time_source": "exif",
        "verdict": "good", "photo_path": f"/photos/{taken_at:%Y-%m-%d}/IMG_{key[:8]}.JPG",
        **measured, "bone_state": "blotted", "colour_absolute": "no", "colour_order": 2,
        "sheet_version": 1, "software_version": "0.1.0",
        "check_plan": "plan", "check_values": json.dumps(checks, separators=(",", ":")),
        "failed_checks": "[]",
    }  # fmt: skip


def _today_s(path: Path) -> tuple[float, float]:
    """Return how long the list for the garage takes, start included, by the wall and in CPU [s]."""
    start, cpu_start = time.perf_counter(), _children_cpu_s()
    subprocess.run(
        [sys.executable, "-m", "greasecheck", "today", "--logbook", str(path)],
        check=True,
        stdout=subprocess.DEVNULL,
    )
    return time.perf_counter() - start, _children_cpu_s() - cpu_start


def _children_cpu_s() -> float:
    times = os.times()
    return times.children_user + times.children_system


def main() -> None:
    """Print what was measured as JSON."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a year instead of ten")
    days = 365 if parser.parse_args().quick else 3650
    print(json.dumps(asdict(measure_scale(days)), indent=2))


if __name__ == "__main__":
    main()
