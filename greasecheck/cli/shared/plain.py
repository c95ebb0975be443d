"""Turns records into plain JSON values: times as ISO text, reasons in words."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from greasecheck.model.reasons import Reason, ReasonCode
from greasecheck.words.reasons import no_date_words, reason_words


def plain(record: Any) -> Any:  # noqa: ANN401 - any record
    """Return a record, or a sequence of them, as plain JSON values under the fields' names.

    Examples
    --------
    >>> from greasecheck.logbook.records import Tub
    >>> plain(Tub(number=12))["volume_l"] is None
    True
    """
    if isinstance(record, Reason):
        return reason_words(record)
    if is_dataclass(record):
        return {field.name: plain(getattr(record, field.name)) for field in fields(record)}
    if isinstance(record, datetime):
        return record.isoformat()
    if isinstance(record, tuple | list):
        return [plain(item) for item in record]
    return str(record) if isinstance(record, Path) else record


def withheld_json(withheld: ReasonCode | None) -> dict[str, str | None]:
    """Return why no date is told, as a code and in words; null while the dates stand."""
    words = no_date_words(withheld) if withheld else None
    return {"withheld": withheld, "no_date": words}
