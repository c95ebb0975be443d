"""The command that says which skulls will yellow later, and which follow-up photos to take."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.shared import logbook_options
from greasecheck.cli.shared.options import AsJson
from greasecheck.cli.shared.output import print_json, with_progress
from greasecheck.cli.shared.plain import plain
from greasecheck.errors import LogbookError
from greasecheck.words.figures import odds_words
from greasecheck.words.risk import MEANINGS, risk_words

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.garage.risk.cases import SkullCase
    from greasecheck.garage.risk.risk import Lessons
    from greasecheck.garage.soaks.past import PastSoak
    from greasecheck.logbook.skulls.soaks import Soak
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.predict.yellowing.records import (
        FollowUpValue,
        Measured,
        RiskReason,
        YellowingRisk,
    )


def register(app: typer.Typer) -> None:
    """Add the command to the app."""
    app.command()(risk)


def risk(
    skulls: logbook_options.SkullNames = None,
    now: logbook_options.AsOf = None,
    fit: Annotated[
        bool, typer.Option("--fit/--no-fit", help="Fit each tub for the grease left (slower).")
    ] = True,
    logbook: logbook_options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Say how likely each skull yellows later, why, and which follow-up photos teach most.

    It learns from follow-ups at 30 to 90 days; until there are any it goes by common practice.

    Example: greasecheck risk "fox 3"
    """
    from greasecheck.garage.risk.risk import learn, photo_lines, trust_line  # noqa: PLC0415 - scipy
    from greasecheck.garage.soaks.past import past_soaks  # noqa: PLC0415 - loads numpy
    from greasecheck.logbook.skulls.skulls import name_of  # noqa: PLC0415 - keeps start-up light
    from greasecheck.predict.yellowing.risk import yellowing_risk  # noqa: PLC0415 - loads scipy

    with logbook_options.opened_as_of(logbook, now) as (book, at):
        soaks = past_soaks(book, at)
        lessons = learn(book, soaks, at, _left(book, soaks, at) if fit else {})
        names = [name_of(book, typed) for typed in skulls or ()]
    shown = _named(lessons.cases, names)
    risks = [yellowing_risk(lessons.model, case.known) for case in shown]
    if as_json:
        print_json(
            {
                "skulls": [_skull_json(*pair) for pair in zip(shown, risks, strict=True)],
                "model": _model_json(lessons),
                "photos": [_photo_json(lessons.cases, photo) for photo in lessons.photos],
            }
        )
        return
    pairs = list(zip(shown, risks, strict=True))
    if not names:
        pairs.sort(key=lambda pair: (pair[0].standing == "yellowed", -pair[1].probability))
    lines = [line for pair in pairs for line in risk_lines(*pair)]
    typer.echo("\n".join([*lines, *photo_lines(lessons), trust_line(lessons)]))


def _left(book: Logbook, soaks: Sequence[PastSoak], at: datetime) -> dict[Soak, Measured]:
    """Return the grease that soaks left, showing how far the work is."""
    from greasecheck.garage.risk.left import grease_left  # noqa: PLC0415 - loads scipy
    from greasecheck.garage.tub_advice import running_advice  # noqa: PLC0415 - loads scipy

    advised = running_advice(book, soaks, at, progress=with_progress)
    return grease_left(book, soaks, at, advised, progress=with_progress)


def _named(cases: Sequence[SkullCase], names: Sequence[str]) -> list[SkullCase]:
    """Return the cases called `names`, all without any.

    Raises
    ------
    LogbookError
        When a name is of no skull that soaked.
    """
    if not names:
        return list(cases)
    by_name = {case.known.name: case for case in cases}
    for name in names:
        if name not in by_name:
            raise LogbookError(
                f"no skull called '{name}' has soaked",
                hint="see their names: greasecheck skull",
            )
    return [by_name[name] for name in names]


def risk_lines(case: SkullCase, found: YellowingRisk) -> list[str]:
    """Return a risk in words, one line a reason."""
    span = found.eight_in_ten
    head = f"{case.known.name} ({case.species or 'species unknown'}, {case.standing}): "
    if case.standing == "yellowed":
        head += "it has yellowed"
    else:
        head += "if taken out now, " if case.standing == "soaking" else ""
        head += f"yellows later with {odds_words(found.probability)}"
        head += f" (8 in 10: {odds_words(span.low)} to {odds_words(span.high)})"
    lines = [head, *(f"  {_words(reason)}" for reason in found.reasons)]
    if found.unmeasured:
        names = ", ".join(MEANINGS[name] for name in found.unmeasured)
        lines.append(f"  not known: {names}")
    return lines


def _skull_json(case: SkullCase, found: YellowingRisk) -> dict[str, object]:
    return {
        "skull": case.known.name,
        "species": case.species,
        "standing": case.standing,
        "whitened_at": plain(case.whitened_at),
        "looks": plain(case.known.looks),
        **plain(found),
        "reasons": [{**plain(reason), "words": _words(reason)} for reason in found.reasons],
    }


def _words(reason: RiskReason) -> str:
    return risk_words(reason.feature, reason.value, reason.odds_factor)


def _model_json(lessons: Lessons) -> dict[str, object]:
    from greasecheck.predict.yellowing.prior import yellowing_prior_words  # noqa: PLC0415 - numpy

    model = lessons.model
    return {
        "outcomes": model.outcomes,
        "yellowed": model.yellowed,
        "without_outcome": model.without_outcome,
        "pareto_k": model.pareto_k,
        "assumed": yellowing_prior_words(),
        "check": plain(lessons.check),
    }


def _photo_json(cases: Sequence[SkullCase], photo: FollowUpValue) -> dict[str, object]:
    from greasecheck.garage.risk.risk import photo_at  # noqa: PLC0415 - loads scipy

    return {**plain(photo), "photo_at": plain(photo_at(cases, photo))}
