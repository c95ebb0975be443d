"""From readings to dates and decisions; plain sequences in, frozen records out."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from greasecheck.predict.outlook.forecasting import fit_tub, forecast, forecast_tubs, project

__all__ = ["fit_tub", "forecast", "forecast_tubs", "project"]


def __getattr__(name: str) -> object:
    """Load the forecast, and with it scipy, when it is first asked for."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module  # noqa: PLC0415 - kept off the start-up path

    return getattr(import_module("greasecheck.predict.outlook.forecasting"), name)
