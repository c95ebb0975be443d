"""Why something is advised, in words."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from greasecheck.model.reasons import ReasonCode
from greasecheck.words.figures import odds_words
from greasecheck.words.times import age, every_words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from greasecheck.model.reasons import Reason

# What to look at in a tub whose grease comes out too slowly.
LOOK_AT = {
    ReasonCode.HEATER: "feel the water: is the heater on, and its plug in?",
    ReasonCode.SOAP: "it began at the time of a water change: was the soap put in?",
    ReasonCode.FLOATS: "does the bone float, or lie above the water?",
}
# Why the dates by the haze are withheld.
NO_DATE = {
    ReasonCode.SLOW: "its grease comes out too slowly",
    ReasonCode.QUICKENED: "its grease comes out faster than before",
    ReasonCode.ONE_LOW_READING: "one reading does not fit the others",
    ReasonCode.BONE_CONTRADICTS: "the bone says not yet",
    ReasonCode.COLD_QUESTION: "nobody has seen its water warm lately",
    ReasonCode.EARLY: "its water is quiet earlier than is usual",
    ReasonCode.UNPROVED: "it is not proved yet",
    ReasonCode.UNBACKED: "its water alone says done, its bone does not back it",
}
LEAST_LEFT = 0.005  # rounds to none
PLAIN = {
    ReasonCode.LITTLE_GREASE: "no more water changes are needed: little grease is left",
    ReasonCode.FEW_READINGS: "too few readings to tell",
    ReasonCode.AS_EXPECTED: "the haze rises as expected of this tub",
    ReasonCode.NEARLY_DONE: "it rises little because little grease is left: nearly done, not "
    "stalled",
    ReasonCode.ENDED_AT_ONCE: "it fell faster than grease usually thins out: little is left, or it"
    " no longer comes out",
    ReasonCode.ONE_LOW_READING: "one reading alone speaks of a stall: photograph this tub again",
    ReasonCode.UNANSWERED: "found before, and nobody has answered it: enter the temperature of the"
    " water, or that all is well",
    ReasonCode.QUIET: "it rises little: for lack of grease, or because the water is cold",
    ReasonCode.UNFIT: "no leaching describes these readings: look for changes, temperatures or"
    " skulls that were not entered",
    ReasonCode.CLEAR_SOAP: "ammonia turns grease to soap that leaves without haze, and the bone"
    " still pales: go by the bone",
    ReasonCode.BONE_CONTRADICTS: "the water says that little grease is left, the bone says not yet:"
    " is the water warm?",
    ReasonCode.COLD_QUESTION: "cold water is quiet, too: measure its temperature, and photograph"
    " the water a day later",
    ReasonCode.UNSEEN: "the haze shows no grease that no water has reached, as in marrow still"
    " closed: are the holes drilled?",
    ReasonCode.PROVED: "a warm bath left alone stayed nearly clear",
    ReasonCode.PATCHES_UNREAD: "no recent photo shows whether it has yellow patches",
    **LOOK_AT,
}


def reason_words(reason: Reason) -> str:
    """Return a reason in words.

    Examples
    --------
    >>> from greasecheck.model.reasons import Reason
    >>> reason_words(Reason(code=ReasonCode.SLOW, values=(0.31,)))
    'it leaches at about 31% of the expected rate'
    """
    plain = PLAIN.get(reason.code)
    return NUMBERED[reason.code](*reason.values) if plain is None else plain


def no_date_words(withheld: ReasonCode) -> str:
    """Return why nobody is told a date.

    Examples
    --------
    >>> no_date_words(ReasonCode.BONE_CONTRADICTS)
    'no date: the bone says not yet'
    """
    return f"no date: {NO_DATE[withheld]}"


def figures_of(reasons: Iterable[Reason]) -> tuple[Reason, ...]:
    """Return reasons without what to look at, which the answer itself says."""
    return tuple(reason for reason in reasons if reason.code not in LOOK_AT)


def reasons_words(reasons: Iterable[Reason]) -> tuple[str, ...]:
    """Return reasons in words."""
    return tuple(reason_words(reason) for reason in reasons)


def _leaching(age_days: float, share: float) -> str:
    return (
        f"bone has soaked in its water for {age(timedelta(days=age_days))}: grease leaves at"
        f" {left_words(share)} of the rate in fresh water"
    )


def _cheapest(interval_days: float, change: float, day: float) -> str:
    return (
        f"a change {every_words(interval_days)} is cheapest if a change costs {change:.2f}"
        f" and a day of soaking {day:.2f}"
    )


def _twice_as_often(often: float, usual: float, saved: float, low: float, high: float) -> str:
    return (
        f"a change {every_words(often)} instead of {every_words(usual)} would save {_days(saved)}"
        f" ({low:.0f} to {high:.0f})"
    )


def _grease_left(odds: float, limit: float, share: float, low: float, high: float) -> str:
    return (
        f"{odds_words(odds)} sure: less than {limit:.0%} of its grease is left; now"
        f" {left_range_words(low, share, high)}"
    )


def left_words(share: float) -> str:
    """Return a share of grease left; haze cannot tell that there is none.

    Examples
    --------
    >>> left_words(0.124), left_words(0.00001)
    ('12%', 'under 1%')
    """
    return "under 1%" if share < LEAST_LEFT else f"{share:.0%}"


def left_range_words(low: float, share: float, high: float) -> str:
    """Return a share of grease left with its range, once where all of it reads alike.

    Examples
    --------
    >>> left_range_words(0.05, 0.124, 0.25), left_range_words(0.0, 0.001, 0.002)
    ('12% (5% to 25%)', 'under 1%')
    """
    least, words, most = map(left_words, (low, share, high))
    return words if least == most else f"{words} ({least} to {most})"


def _slope(course: str) -> Callable[..., str]:
    return lambda slope, low, high: (
        f"yellowness {slope:+.1f} a week ({low:+.1f} to {high:+.1f}): {course}"
    )


def _no_haze(usual_days: float) -> str:
    return (
        "grease dissolved in acetone makes no haze, so the usual interval stays, "
        f"{every_words(usual_days)}: go by the bone, and by how yellow the acetone is"
    )


def _soaks_on(interval_days: float) -> str:
    return (
        "the haze says that little grease is left, but it soaks on: go on changing the water"
        f" {every_words(interval_days)}, or old water gives grease back to the bone"
    )


NUMBERED: dict[ReasonCode, Callable[..., str]] = {
    ReasonCode.LEACHING: _leaching,
    ReasonCode.CHEAPEST: _cheapest,
    ReasonCode.TWICE_AS_OFTEN: _twice_as_often,
    ReasonCode.NO_HAZE: _no_haze,
    ReasonCode.SOAKS_ON: _soaks_on,
    ReasonCode.SLOW: "it leaches at about {:.0%} of the expected rate".format,
    ReasonCode.MEASURED_COLD: (
        "the water was measured at {:.0f} °C, and had been filled in at {:.0f} °C: until it is"
        " measured warm, or all is found well, it is taken to cool so after each change"
    ).format,
    ReasonCode.QUICKENED: (
        "it leaches {:.1f} times as fast as before: was another skull put in, or did it get"
        " warmer? enter it, or that all is well"
    ).format,
    ReasonCode.EARLY: (
        "it soaked as much as {:.0f} days at 40 °C do, and its species takes {:.0f} to {:.0f} (our"
        " guess): so early quiet water alone does not make it surer"
    ).format,
    ReasonCode.UNPROVED: (
        "its pace once broke: only a bath left warm for up to {:.0f} days that stays nearly clear"
        " proves it done"
    ).format,
    ReasonCode.UNBACKED: (
        "its photos do not show a bone that paled until it was clean: until its species' usual time"
        " is well over, only a bath left warm for up to {:.0f} days that stays nearly clear"
        " proves it done"
    ).format,
    ReasonCode.GREASE_LEFT: _grease_left,
    ReasonCode.PATCHES: "{:.0%} of the bone in yellow patches, by its last photos".format,
    ReasonCode.FEW_LOOKS: "too few recent bone photos ({:.0f}) to tell if it still pales".format,
    ReasonCode.PALING: _slope("still paling"),
    ReasonCode.SETTLED: _slope("settled"),
    ReasonCode.SLOPE_UNSURE: _slope("not sure enough"),
}


def _days(days: float) -> str:
    """Return whole days in words.

    Examples
    --------
    >>> _days(1.4), _days(1.6)
    ('1 day', '2 days')
    """
    return "1 day" if round(days) == 1 else f"{days:.0f} days"
