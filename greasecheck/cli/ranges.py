"""Numbers out of range on the command line, told in our own words instead of the library's."""

from __future__ import annotations

import re
from typing import Any

from greasecheck.errors import OutOfRangeError

OUT_OF_RANGE = re.compile(r"Input should be (greater|less) than")


def out_of_range(error: Any) -> OutOfRangeError | None:  # noqa: ANN401 - typer names no class for it
    """Return what is wrong with a number beyond its limits; None for any other wrong usage.

    Parameters
    ----------
    error : exception
        The library's, with the parameter that it is about.
    """
    if not OUT_OF_RANGE.search(error.message):
        return None
    parameter, typed = error.param, _typed(error)
    limits = limits_words(parameter.min, parameter.max)
    means = (parameter.help or "").rstrip(".")
    return OutOfRangeError(
        f"{parameter.opts[0]}{typed} is out of range",
        hint=f"write a number {limits}" + (f" ({means[:1].lower()}{means[1:]})" if means else ""),
    )


def limits_words(least: float | None, most: float | None) -> str:
    """Return the limits of a number, at least one of which is given.

    Examples
    --------
    >>> limits_words(0.0, 100.0), limits_words(0.1, None), limits_words(None, 99_999)
    ('from 0 to 100', 'of 0.1 or more', 'of 99999 or less')
    """
    ends = [_plain(end) for end in (least, most) if end is not None]
    if len(ends) > 1:
        return f"from {ends[0]} to {ends[1]}"
    return f"of {ends[0]} or {'less' if least is None else 'more'}"


def _plain(value: float) -> str:
    return f"{value:.0f}" if value == round(value) else f"{value:g}"


def _typed(error: Any) -> str:  # noqa: ANN401 - as above
    """Return what was typed, behind a blank; empty where the library does not tell it."""
    cause = error.__cause__
    return f" {cause.errors()[0]['input']}" if hasattr(cause, "errors") else ""
