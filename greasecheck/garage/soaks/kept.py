"""Fits soaks, but for those that ended and were fitted before: what was told of them is kept.

It is kept under a digest of all that it depends on: the soak's water and readings, and the code
and the tables of greasecheck. Whatever changes, the soak is fitted anew.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from typing import TYPE_CHECKING

from greasecheck.garage.progress import quiet
from greasecheck.garage.soaks.fits import SoakFit, fit_soak
from greasecheck.garage.soaks.model_version import model_version
from greasecheck.garage.soaks.past import past_soaks
from greasecheck.logbook.soak_facts import keep_facts, kept_facts
from greasecheck.model import Recipe
from greasecheck.predict.recipes.records import TubRate
from greasecheck.predict.yellowing.records import Measured

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import datetime

    from greasecheck.garage.progress import Progress
    from greasecheck.garage.soaks.past import PastSoak
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.predict.fit.tub_fit import TubFit
    from greasecheck.predict.records import TubHistory


def all_soak_fits(
    book: Logbook,
    now: datetime,
    made: Mapping[TubHistory, TubFit] | None = None,
    *,
    progress: Progress = quiet,
) -> tuple[SoakFit, ...]:
    """Return every soak with what its fit tells; parameters as for `kept_or_fitted`."""
    soaks = past_soaks(book, now)
    return tuple(progress(kept_or_fitted(book, soaks, now, made), len(soaks), "fitting soaks"))


def kept_or_fitted(
    book: Logbook,
    soaks: Sequence[PastSoak],
    now: datetime,
    made: Mapping[TubHistory, TubFit] | None = None,
) -> Iterator[SoakFit]:
    """Yield each soak with what its fit tells; what ended soaks told is kept in the logbook.

    Parameters
    ----------
    book : Logbook
        Where it is kept.
    soaks : sequence of PastSoak
        From `greasecheck.garage.soaks.past.past_soaks`.
    now : datetime.datetime
        Zone-aware; soaks that last until then change from day to day and are not kept.
    made : mapping, optional
        Fits that are made already, as for `fit_soak`.
    """
    kept, new = kept_facts(book), {}
    for soak in soaks:
        key = _digest(soak)
        if key in kept:
            yield _fit_from(soak, kept[key])
            continue
        fit = fit_soak(soak, made)
        if soak.until < now:
            new[key] = _facts(fit)
        yield fit
    keep_facts(book, new)


def _digest(soak: PastSoak) -> str:
    """Return the key under which the fit of a soak is kept."""
    told = repr((soak.history, soak.until, soak.name))
    return hashlib.sha256((model_version() + told).encode()).hexdigest()


def _facts(fit: SoakFit) -> str:
    return json.dumps(
        {
            "rate": fit.rate and asdict(fit.rate),
            "why_no_rate": fit.why_no_rate,
            "residual": fit.residual and asdict(fit.residual),
        }
    )


def _fit_from(soak: PastSoak, facts: str) -> SoakFit:
    told = json.loads(facts)
    rate, residual = told["rate"], told["residual"]
    return SoakFit(
        soak=soak,
        rate=rate and TubRate(**{**rate, "recipe": Recipe(rate["recipe"])}),
        why_no_rate=told["why_no_rate"],
        residual=residual and Measured(**residual),
    )
