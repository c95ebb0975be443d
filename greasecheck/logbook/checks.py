"""Writes a reading's checks as compact text and reads them back."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from greasecheck.model import Check

if TYPE_CHECKING:
    from collections.abc import Iterable


def checks_text(checks: Iterable[Check]) -> str | None:
    """Return `checks` as compact JSON, numbers to 6 digits; None without any.

    Examples
    --------
    >>> checks_text([Check(name="tilt_deg", value=3.0, limit=20.0, passed=True, hard=False,
    ...                    advice="")])
    '[["tilt_deg",3.0,20.0,1,0]]'
    """
    rows = [
        [c.name, _rounded(c.value), _rounded(c.limit), int(c.passed), int(c.hard), c.advice]
        for c in checks
    ]
    short = [row if row[-1] else row[:-1] for row in rows]
    return json.dumps(short, separators=(",", ":"), allow_nan=False) if short else None


def checks_from(text: str | None) -> tuple[Check, ...]:
    """Return the checks that `checks_text` wrote.

    Raises
    ------
    ValueError, TypeError
        When the text is not of that form.
    """
    return tuple(
        Check(
            name=str(name),
            value=None if value is None else float(value),
            limit=float(limit),
            passed=bool(passed),
            hard=bool(hard),
            advice=str(advice[0]) if advice else "",
        )
        for name, value, limit, passed, hard, *advice in json.loads(text or "[]")
    )


def _rounded(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.6g}")
