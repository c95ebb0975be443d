"""Writes frozen records as JSON text and makes them again, exactly.

Only records and choices of this package are made again, so that a logbook from elsewhere can run
nothing.
"""

from __future__ import annotations

import json
from base64 import b64decode, b64encode
from dataclasses import fields, is_dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

PACKAGE = "greasecheck."
KIND = "is"  # names the type that a JSON object stands for


def to_json(value: object) -> str:
    """Return JSON text of a record; its parts may be records, tuples, arrays, times and choices.

    Raises
    ------
    TypeError
        When a part is of another kind.

    Examples
    --------
    >>> from greasecheck.predict.records import Plan
    >>> from_json(to_json(Plan(temperature_c=40.0))) == Plan(temperature_c=40.0)
    True
    """
    return json.dumps(_plain(value))


def from_json(text: str) -> Any:  # noqa: ANN401 - as many types as there are records
    """Make again what `to_json` wrote."""
    return json.loads(text, object_hook=_made)


def _plain(value: Any) -> Any:  # noqa: ANN401, PLR0911 - one return for each kind
    if isinstance(value, StrEnum):
        return {KIND: _name_of(type(value)), "value": str(value)}
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, float):
        return float(value)
    if isinstance(value, datetime):
        return {KIND: "time", "value": value.isoformat()}
    if isinstance(value, timedelta):
        return {KIND: "span", "value": value.total_seconds()}
    if isinstance(value, tuple):
        return {KIND: "tuple", "value": [_plain(part) for part in value]}
    if is_dataclass(value) and not isinstance(value, type):
        made_from = {
            part.name: _plain(getattr(value, part.name)) for part in fields(value) if part.init
        }
        return {KIND: _name_of(type(value)), "fields": list(made_from.items())}
    return _plain_array(value)


def _plain_array(value: Any) -> dict[str, object]:  # noqa: ANN401 - an array, or refused
    if not hasattr(value, "tobytes") or value.dtype.hasobject:
        raise TypeError(f"a {type(value).__name__} cannot be kept")
    return {
        KIND: "array",
        "value": b64encode(value.tobytes()).decode(),
        "dtype": value.dtype.str,
        "shape": list(value.shape),
    }


def _made(found: dict[str, Any]) -> Any:  # noqa: ANN401 - as many types as there are records
    kind = found[KIND]
    if kind == "time":
        return datetime.fromisoformat(found["value"])
    if kind == "span":
        return timedelta(seconds=found["value"])
    if kind == "tuple":
        return tuple(found["value"])
    if kind == "array":
        return _array(found)
    made = _type_named(kind)
    return made(**dict(found["fields"])) if "fields" in found else made(found["value"])


def _array(found: Mapping[str, Any]) -> object:
    import numpy as np  # noqa: PLC0415 - lists are read without it

    values = np.frombuffer(b64decode(found["value"]), dtype=np.dtype(found["dtype"]))
    shaped = values.reshape(found["shape"])
    return shaped if shaped.ndim else shaped[()]


def _name_of(kind: type) -> str:
    return f"{kind.__module__}:{kind.__qualname__}"


def _type_named(name: str) -> Any:  # noqa: ANN401 - a record's or a choice's class
    module, _, qualified = name.partition(":")
    found = getattr(import_module(module), qualified) if module.startswith(PACKAGE) else None
    if not isinstance(found, type) or not (is_dataclass(found) or issubclass(found, StrEnum)):
        raise ValueError(f"{name} is no record")
    return found
