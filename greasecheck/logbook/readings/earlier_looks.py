"""Compares a bone with its earlier looks, by which something else on the rest is known."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from statistics import median
from typing import TYPE_CHECKING

from greasecheck.logbook.store.times import to_text
from greasecheck.model import Check, ReadingKind, Verdict

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.logbook.store.book import Logbook
    from greasecheck.model import BoneReading, Reading

LOOKS = 5  # of the same bone, the nearest before; of more the season's first would count
FEWEST = 2
# Times the usual area seen: a card of 40 by 60 mm beside a skull of 90 mm adds 0.5. At the double,
# nothing of a card's size would be found; nearer to 1, a skull laid down otherwise is doubted.
MOST_AREA_RATIO = 1.35
# A bone loses up to 1 of yellowness a day and 15 over months; within these days so much is another
# thing, or a bone that was bleached meanwhile (practice, no source).
DAYS = timedelta(days=14)
MOST_YI_STEP = 20.0


def flag_unlike(book: Logbook, reading: Reading, skull: str | None) -> Reading:
    """Return a good reading whose bone is unlike its earlier looks as a doubtful one.

    Earlier looks are those of the same skull where it is named, otherwise those of the same tub
    that name none, as long as one skull soaks there.

    Parameters
    ----------
    book : Logbook
        Where they stand.
    reading : Reading
        As measured.
    skull : str or None
        The skull on the rest.
    """
    if reading.bone is None or reading.tub is None or reading.taken_at is None:
        return reading
    if skull is None and not _is_alone(book, reading.tub, reading.taken_at):
        return reading
    checks = _checks(reading.bone, _looks(book, reading, skull), reading.taken_at)
    failed = any(not check.passed for check in checks)
    doubtful = failed and reading.verdict is Verdict.GOOD
    verdict = Verdict.DOUBTFUL if doubtful else reading.verdict
    return replace(reading, checks=(*reading.checks, *checks), verdict=verdict)


def _is_alone(book: Logbook, tub: int, at: datetime) -> bool:
    """Return whether at most one skull has been in a tub by then."""
    sql = "SELECT count(DISTINCT skull) FROM skull_events WHERE tub = ? AND happened_at <= ?"
    [(count,)] = book.rows(sql, (tub, to_text(at)))
    return bool(count <= 1)


def _looks(
    book: Logbook, reading: Reading, skull: str | None
) -> list[tuple[str, float | None, float]]:
    """Return when, how large [mm2] and how yellow the bone was before, the newest first."""
    assert reading.bone is not None
    assert reading.taken_at is not None
    whose, name = ("skull = ?", skull) if skull else ("skull IS NULL AND tub = ?", reading.tub)
    sql = f"""SELECT taken_at, bone_area_mm2, bone_yi_e313 FROM readings
        WHERE {whose} AND taken_at < ? AND bone_yi_e313 IS NOT NULL AND wrong = 0
        AND verdict = 'good' AND kind IN (?, ?) AND bone_state IS ?
        ORDER BY taken_at DESC LIMIT {LOOKS}"""
    # A card lies nearer to the camera than the rest, and another kind shows another size.
    kinds = (reading.kind, ReadingKind.JAR if reading.kind is ReadingKind.BONE else reading.kind)
    until = to_text(reading.taken_at)
    return book.rows(sql, (name, until, *kinds, reading.bone.state))


def _checks(
    bone: BoneReading, looks: list[tuple[str, float | None, float]], at: datetime
) -> tuple[Check, ...]:
    areas = [area for _, area, _ in looks if area]
    near = [yi for when, _, yi in looks if when >= to_text(at - DAYS)]
    checks = []
    if len(areas) >= FEWEST:
        ratio = bone.area_mm2 / median(areas)
        checks.append(_check("bone_area_to_earlier", ratio, MOST_AREA_RATIO))
    if len(near) >= FEWEST:
        step = abs(bone.yi_e313 - median(near))
        checks.append(_check("bone_yi_from_earlier", step, MOST_YI_STEP))
    return tuple(checks)


def _check(name: str, value: float, limit: float) -> Check:
    return Check(name=name, value=value, limit=limit, passed=value <= limit, hard=False)
