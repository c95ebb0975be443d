"""Fits soaks, except for those that were fitted before: their results are kept.

A result is kept with a digest of all that it depends on: the soak's water and readings, and the
code and the tables of greasecheck. Where any of these has changed, the soak is fitted anew.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

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

    from greasecheck.garage.progress import Progress
    from greasecheck.garage.soaks.past import PastSoak
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.predict.fit.tub_fit import TubFit

# The result of a running soak shifts in proportion to its age; recipes' ratios hardly change by it.
SERVES_FOR = timedelta(hours=12)


def all_soak_fits(
    book: Logbook, now: datetime, *, progress: Progress = quiet
) -> tuple[SoakFit, ...]:
    """Return every soak with the results of its fit; parameters as for `kept_or_fitted`."""
    soaks = past_soaks(book, now)
    return tuple(progress(kept_or_fitted(book, soaks, now), len(soaks), "fitting soaks"))


def kept_or_fitted(book: Logbook, soaks: Sequence[PastSoak], now: datetime) -> Iterator[SoakFit]:
    """Yield each soak with the results of its fit, kept from before where it still holds.

    Parameters
    ----------
    book : Logbook
        Where it is kept.
    soaks : sequence of PastSoak
        From `greasecheck.garage.soaks.past.past_soaks`.
    now : datetime.datetime
        Zone-aware; of soaks that last until then, a kept fit serves for some hours.
    """
    kept = kept_facts(book)
    for soak in soaks:
        facts = kept.get(_place(soak, now))
        before = json.loads(facts) if facts else None
        if before is not None and _serves(before, soak, now):
            yield _fit_from(soak, before)
            continue
        fit = fit_soak(soak)
        keep_facts(book, {_place(soak, now): _facts(fit)})
        yield fit


def keep_fit(book: Logbook, soak: PastSoak, fit: TubFit) -> None:
    """Keep the results of a soak's fit that was made as of its end."""
    found = fit_soak(soak, fit)
    keep_facts(book, {_place(soak, fit.now): _facts(found)})


def _place(soak: PastSoak, now: datetime) -> str:
    """Return where the facts are kept: by all they rest on, or by the tub of a running soak."""
    return _digest(soak) if soak.until < now else f"running in tub {soak.tub}"


def _serves(kept: Mapping[str, Any], soak: PastSoak, now: datetime) -> bool:
    at = datetime.fromisoformat(kept["at"])
    same = kept["rests_on"] == _digest(replace(soak, until=at))
    return same and (soak.until < now or at <= now <= at + SERVES_FOR)


def _digest(soak: PastSoak) -> str:
    """Return the key of all that the fit of a soak rests on."""
    content = repr((soak.history, soak.until, soak.name))
    return hashlib.sha256((model_version() + content).encode()).hexdigest()


def _facts(fit: SoakFit) -> str:
    return json.dumps(
        {
            "at": fit.soak.until.isoformat(),
            "rests_on": _digest(fit.soak),
            "rate": fit.rate and asdict(fit.rate),
            "why_no_rate": fit.why_no_rate,
            "residuals": {skull: asdict(left) for skull, left in fit.residuals.items()},
        }
    )


def _fit_from(soak: PastSoak, kept: Mapping[str, Any]) -> SoakFit:
    rate = kept["rate"]
    return SoakFit(
        soak=soak,
        rate=rate and TubRate(**{**rate, "recipe": Recipe(rate["recipe"])}),
        why_no_rate=kept["why_no_rate"],
        residuals={skull: Measured(**left) for skull, left in kept["residuals"].items()},
    )
