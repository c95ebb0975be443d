"""Finds the grease that soaks left in their skulls: as the advice tells it, or by a fit."""

from __future__ import annotations

from statistics import NormalDist
from typing import TYPE_CHECKING

from greasecheck.garage.progress import quiet
from greasecheck.garage.soaks.kept import kept_or_fitted
from greasecheck.garage.soaks.past import as_of
from greasecheck.predict.yellowing.records import Measured

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from greasecheck.garage.progress import Progress
    from greasecheck.garage.soaks.fits import SoakFit
    from greasecheck.garage.soaks.past import PastSoak
    from greasecheck.logbook.skulls.soaks import Soak
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.predict.advice.decisions import TubAdvice

EIGHT_IN_TEN = NormalDist().inv_cdf(0.9)  # standard errors from the median to 10 and 90 %


def grease_left(
    book: Logbook,
    spans: Sequence[PastSoak],
    now: datetime,
    advised: Mapping[int, TubAdvice | None],
    *,
    made: Sequence[SoakFit] = (),
    progress: Progress = quiet,
) -> dict[Soak, Measured]:
    """Return the share of its grease that each soak left in its skull; without unknown ones.

    Parameters
    ----------
    book : Logbook
        Where fits are kept.
    spans : sequence of PastSoak
        From `greasecheck.garage.soaks.past.past_soaks`.
    now : datetime.datetime
        Zone-aware.
    advised : mapping
        The advice on tubs, which knows the finished tubs, too: what it tells of a running soak
        goes before the soak's own fit, so that one figure is told everywhere.
    made : sequence of SoakFit
        Fits that are made already.
    progress : callable
        Shows how far the fits are that are to be made.
    """
    ends = {soak: as_of(span, min(soak.until or now, now)) for span in spans for soak in span.soaks}
    left = {fit.soak: fit.residuals for fit in made} | {
        span: _left_now(advice)
        for span in spans
        if span.until >= now and (advice := advised.get(span.tub)) is not None
    }
    lacking = [end for end in dict.fromkeys(ends.values()) if end not in left]
    fits = progress(kept_or_fitted(book, lacking, now), len(lacking), "fitting soaks")
    left |= {fit.soak: fit.residuals for fit in fits}
    return {soak: left[end][soak.skull] for soak, end in ends.items() if soak.skull in left[end]}


def _left_now(advice: TubAdvice) -> dict[str, Measured]:
    """Return the share of grease left in the skulls of a tub, as its forecast tells it."""
    found = {one.name: one.grease_left_share for one in advice.forecast.skulls}
    return {
        name: Measured(value=middle, std=(high - low) / 2 / EIGHT_IN_TEN)
        for name, (low, middle, high) in found.items()
    }
