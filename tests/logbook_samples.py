"""Invented readings, and picture files that a stand-in for the measurement can read."""

from __future__ import annotations

import hashlib
import json
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from greasecheck.model import (
    BoneReading,
    BoneState,
    Bound,
    Check,
    ColourFit,
    LadderReading,
    LeftOut,
    LeftOutReason,
    Reading,
    TimeSource,
    Verdict,
    WaterReading,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

START = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)


def day(number: float) -> datetime:
    """Return the time some days after the start of the invented season."""
    return START + timedelta(days=number)


def make_check(*, passed: bool = True, hard: bool = False, note: str = "") -> Check:
    return Check(name="tilt_deg", value=3.25, limit=20.0, passed=passed, hard=hard, note=note)


def make_water(haze_per_m: float = 12.5, bound: Bound | None = None) -> WaterReading:
    return WaterReading(
        attenuation_rgb_per_m=(haze_per_m * 0.9, haze_per_m, haze_per_m * 1.2),
        main_per_m=haze_per_m,
        std_per_m=0.4,
        bound=bound,
        forward_scatter=0.71,
        tint_yi=11.5,
        path_mm=60.0,
        dilution=1.0,
        turbidity=None if bound else haze_per_m * 2.1,
        turbidity_std=None if bound else 1.3,
        turbidity_unit="NTU (rough)",
    )


def make_bone(yi_e313: float = 27.5) -> BoneReading:
    return BoneReading(
        yi_e313=yi_e313,
        yi_std=0.6,
        yi_spread=4.2,
        lab=(81.5, 2.1, 14.9),
        whiteness_cie=12.0,
        tint_cie=-3.5,
        delta_e00_clean=5.1,
        yellow_patch_share=0.18,
        yellow_share_std=0.02,
        area_mm2=2310.0,
        state=BoneState.BLOTTED,
        left_out=(LeftOut(reason=LeftOutReason.CRUMB, count=2, area_mm2=31.5),),
    )


def make_ladder(decay_per_m: float = 8.5) -> LadderReading:
    return LadderReading(
        decay_per_m=decay_per_m,
        decay_std_per_m=0.3,
        level_mm=131.0,
        level_std_mm=0.6,
        view_deg=38.0,
    )


def make_colour() -> ColourFit:
    return ColourFit(
        loo_delta_e00=1.2, absolute=False, order=2, clipped_share=0.001, gradient_ratio=1.3
    )


def make_reading(
    name: str = "one",
    *,
    at: datetime | None = START,
    tub: int | None = 12,
    haze_per_m: float | None = 12.5,
    bone: bool = True,
    verdict: Verdict = Verdict.GOOD,
) -> Reading:
    """Return a reading of an invented photo; `name` tells photos apart."""
    refused = verdict is Verdict.REFUSED
    return Reading(
        photo_path=f"photos/{name}.jpg",
        photo_sha256=hashlib.sha256(name.encode()).hexdigest(),
        taken_at=at,
        time_source=TimeSource.EXIF,
        tub=tub,
        verdict=verdict,
        checks=(make_check(passed=not refused, hard=refused),),
        water=None if haze_per_m is None else make_water(haze_per_m),
        bone=make_bone() if bone else None,
        colour=make_colour(),
        sheet_version=1,
        software_version="0.1.0",
    )


def write_photos(folder: Path, count: int, *, refused_every: int = 10) -> tuple[Path, ...]:
    """Write picture files that `measure_file` can read; every tenth is refused."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for number in range(count):
        path = folder / f"photo{number:04d}.jpg"
        refused = number % refused_every == refused_every - 1
        content = {"number": number, "tub": 10 + number % 5, "refused": refused}
        path.write_text(json.dumps(content), encoding="utf-8")
        paths.append(path)
    return tuple(paths)


def measure_file(path: Path, wait_s: float = 0.0) -> Reading:
    """Stand in for the measurement of one of the files that `write_photos` wrote."""
    time.sleep(wait_s)
    content = path.read_bytes()
    told = json.loads(content)
    reading = make_reading(
        at=day(told["number"] / 24),
        tub=told["tub"],
        haze_per_m=5.0 + told["number"] % 17,
        verdict=Verdict.REFUSED if told["refused"] else Verdict.GOOD,
    )
    return replace(reading, photo_path=str(path), photo_sha256=hashlib.sha256(content).hexdigest())


def measure_files(paths: Sequence[Path]) -> Iterator[tuple[Reading, ...]]:
    return ((measure_file(path),) for path in paths)
