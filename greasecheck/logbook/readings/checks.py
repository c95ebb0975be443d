"""Keeps a reading's checks in little room: what is the same from photo to photo is kept once."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.logbook.store.tables import CHECK_PLANS
from greasecheck.model import Check

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.logbook.store.book import Entry, Logbook
    from greasecheck.logbook.store.columns import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class PackedChecks:
    """Checks as three JSON texts.

    Attributes
    ----------
    plan : str
        [name, limit, hard] of each check.
    values : str
        What was found for each, to 6 digits.
    failed : str
        [place, note] of each that failed.
    """

    plan: str
    values: str
    failed: str

    @property
    def plan_key(self) -> str:
        """Return what distinguishes the plan from others: the start of its SHA-256."""
        return hashlib.sha256(self.plan.encode()).hexdigest()[:16]


def pack_checks(checks: Sequence[Check]) -> PackedChecks:
    """Return checks as three JSON texts, numbers to 6 digits.

    Examples
    --------
    >>> pack_checks([Check(name="tilt_deg", value=31.0, limit=20.0, passed=False, hard=False,
    ...                    note="card")]).failed
    '[[0,"card"]]'
    """
    return PackedChecks(
        plan=_text([[c.name, _rounded(c.limit), int(c.hard)] for c in checks]),
        values=_text([_rounded(c.value) for c in checks]),
        failed=_text([[place, c.note] for place, c in enumerate(checks) if not c.passed]),
    )


def unpack_checks(packed: PackedChecks) -> tuple[Check, ...]:
    """Return the checks that `pack_checks` packed.

    Raises
    ------
    ValueError
        When the texts do not fit each other.
    """
    failed = dict(json.loads(packed.failed))
    pairs = zip(json.loads(packed.plan), json.loads(packed.values), strict=True)
    return tuple(
        Check(
            name=name,
            value=value,
            limit=limit,
            passed=place not in failed,
            hard=bool(hard),
            note=str(failed.get(place, "")),
        )
        for place, ((name, limit, hard), value) in enumerate(pairs)
    )


def store_checks(entry: Entry, checks: Sequence[Check]) -> dict[str, Value]:
    """Keep the plan of a reading's checks; return the columns of the reading that hold the rest."""
    packed = pack_checks(checks)
    if entry.row(CHECK_PLANS, (packed.plan_key,)) is None:
        entry.insert(CHECK_PLANS, {"key": packed.plan_key, "checks": packed.plan})
    return {
        "check_plan": packed.plan_key,
        "check_values": packed.values,
        "failed_checks": packed.failed,
    }


def checks_of(book: Logbook, key: str) -> tuple[Check, ...]:
    """Return the checks of the reading under `key`; none for one entered by hand.

    Raises
    ------
    LogbookError
        When they were imported and do not fit each other.
    """
    rows = book.rows(
        "SELECT check_plans.checks, check_values, failed_checks FROM readings"
        " JOIN check_plans ON check_plan = check_plans.key WHERE readings.key = ?",
        (key,),
    )
    if not rows:
        return ()
    plan, values, failed = rows[0]
    try:
        packed = PackedChecks(plan=plan, values=values or "[]", failed=failed or "[]")
        return unpack_checks(packed)
    except (ValueError, TypeError) as error:
        raise LogbookError(
            f"the checks of the reading {key} do not fit their plan",
            hint="compare the CSV files from which it was imported",
        ) from error


def _rounded(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.6g}")


def _text(value: object) -> str:
    return json.dumps(value, separators=(",", ":"), allow_nan=False)
