"""Tubs, hazes, shares and odds in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from greasecheck.model import Bound

if TYPE_CHECKING:
    from collections.abc import Iterable

# Each share up to its number goes by these words.
SHARES = (
    (0.05, "next to nothing"),
    (0.15, "a tenth"),
    (0.29, "a quarter"),
    (0.42, "a third"),
    (0.58, "half"),
    (0.71, "two thirds"),
    (0.85, "three quarters"),
)
MOST = "almost all"  # from the last of these shares on

# Hazes up to here [1/m] look so through a jar of 60 mm; common practice, no source.
MURK = (
    (0.5, "clear"),
    (3.0, "nearly clear"),
    (8.0, "a little cloudy"),
    (25.0, "cloudy"),
    (55.0, "very cloudy"),
)

MUCH_WATER = 1.5
# Why the water may run clear long after a skull is degreased.
CLEARS_LAST = "the last grease seeps out for long; nothing waits for it"


def tub_words(number: int | None, name: str | None) -> str:
    """Return what a tub is called: its number, and its name when it has one."""
    return f"tub {number} ({name})" if name else f"tub {number}"


def numbers_words(numbers: Iterable[int]) -> str:
    """Return numbers of tubs in order, three and more in a row by their ends.

    Examples
    --------
    >>> numbers_words([12, 20, 13, 15, 16, 17])
    '12, 13, 15-17, 20'
    """
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(
        f"{run[0]}-{run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs
    )


def capital(words: str) -> str:
    """Return words with a capital at their start."""
    return f"{words[:1].upper()}{words[1:]}"


def listed(names: tuple[str, ...]) -> str:
    """Return names as a list in a sentence.

    Examples
    --------
    >>> listed(("fox 3", "mink 1", "mink 2"))
    'fox 3, mink 1 and mink 2'
    """
    return " and ".join((", ".join(names[:-1]), names[-1])) if len(names) > 1 else "".join(names)


def two_digits(value: float) -> str:
    """Return a figure to two digits, large ones as whole numbers.

    Examples
    --------
    >>> two_digits(0.0754), two_digits(15.2), two_digits(384.0)
    ('0.075', '15', '380')
    """
    return f"{float(f'{value:.2g}'):g}"


def clear_limit_words(limit_per_m: float, litres_over_standard: float) -> str:
    """Return below which haze a tub's fresh bath is clear [1/m], and why it is so little there.

    Examples
    --------
    >>> clear_limit_words(3.0, 1.0)
    '3'
    >>> clear_limit_words(0.375, 8.0)
    '0.38: its grease lies in 8 times the usual water'
    """
    if 1 / MUCH_WATER < litres_over_standard < MUCH_WATER:
        return two_digits(limit_per_m)
    times = two_digits(litres_over_standard)
    return f"{two_digits(limit_per_m)}: its grease lies in {times} times the usual water"


def share_words(share: float) -> str:
    """Return a share as a preparer says it.

    Examples
    --------
    >>> share_words(0.02), share_words(0.38), share_words(0.9)
    ('next to nothing', 'a third', 'almost all')
    """
    return next((words for limit, words in SHARES if share < limit), MOST)


def patch_share_words(share: float, std: float | None) -> str:
    """Return the share of a bone in yellow patches with its standard error, where it is stated.

    Examples
    --------
    >>> patch_share_words(0.354, 0.071), patch_share_words(0.354, None)
    ('35 ± 7%', '35%')
    """
    return f"{100 * share:.0f}%" if std is None else f"{100 * share:.0f} ± {100 * std:.0f}%"


class Hazy(Protocol):
    """What has a haze: its attenuation [1/m] with standard error, or a bound."""

    @property
    def attenuation_per_m(self) -> float | None:
        """Return the attenuation [1/m]; None without one."""

    @property
    def attenuation_std_per_m(self) -> float | None:
        """Return its standard error [1/m]."""

    @property
    def bound(self) -> Bound | None:
        """Return which bound it is; None for a number."""


def haze_words(reading: Hazy) -> str:
    """Return the haze of a logged reading with unit and uncertainty; only for one that has it."""
    assert reading.attenuation_per_m is not None
    std = reading.attenuation_std_per_m or 0.0
    return attenuation_words(reading.attenuation_per_m, std, reading.bound)


def murk_words(value_per_m: float) -> str:
    """Return how murky water looks, as a preparer says it.

    Examples
    --------
    >>> murk_words(0.3), murk_words(12.0), murk_words(90.0)
    ('clear', 'cloudy', 'like milk')
    """
    return next((words for limit, words in MURK if value_per_m < limit), "like milk")


def attenuation_words(value_per_m: float, std_per_m: float, bound: Bound | None) -> str:
    """Return an attenuation with unit and standard error, or as a bound.

    Examples
    --------
    >>> attenuation_words(12.34, 0.41, None), attenuation_words(65.0, 0.0, Bound.ABOVE)
    ('12.3 ± 0.4 per metre', 'above 65.0 per metre')
    """
    if bound is not None:
        return f"{'above' if bound is Bound.ABOVE else 'below'} {value_per_m:.1f} per metre"
    return f"{with_error(value_per_m, std_per_m)} per metre"


def with_error(value: float, std: float) -> str:
    """Return a figure with its standard error; an error is never shown as nothing.

    Examples
    --------
    >>> with_error(12.34, 0.41), with_error(1.2, 0.04), with_error(143.0, 21.0)
    ('12.3 ± 0.4', '1.20 ± 0.04', '143 ± 21')
    """
    digits = next((digits for digits, least in enumerate((9.5, 0.095, 0.0095)) if std >= least), 3)
    return f"{value:.{digits}f} ± {std:.{digits}f}" if std > 0 else f"{value:.1f}"


def odds_words(probability: float) -> str:
    """Return a probability in whole percent, never as 0 or 100.

    Parameters
    ----------
    probability : float
        0 to 1.

    Examples
    --------
    >>> odds_words(0.5), odds_words(0.003), odds_words(1.0)
    ('50%', 'under 1%', 'over 99%')
    """
    if probability < 0.01:
        return "under 1%"
    return "over 99%" if probability > 0.99 else f"{probability:.0%}"
