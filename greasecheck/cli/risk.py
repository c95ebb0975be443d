"""The command that says which skulls will yellow later, and which follow-up photos to take."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli import logbook_options
from greasecheck.cli.clock import parse_time
from greasecheck.cli.options import AsJson
from greasecheck.cli.output import print_json
from greasecheck.cli.plain import plain
from greasecheck.errors import LogbookError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.cli.risk_cases import SkullCase
    from greasecheck.predict.yellowing_fit import YellowingModel
    from greasecheck.predict.yellowing_records import (
        FinishedSkull,
        FollowUpValue,
        ModelCheck,
        YellowingRisk,
    )

SHOWN_PROBABILITY = 0.8
MOST_PHOTOS = 5
LEAST_BITS = 0.002  # own choice: less is not worth a photo


def register(app: typer.Typer) -> None:
    """Add the command to the app."""
    app.command()(risk)


def risk(
    skulls: Annotated[
        list[str] | None,
        typer.Argument(
            help="Skulls to show; all when left out.",
            metavar="[SKULL]...",
            autocompletion=logbook_options.complete_skull,
        ),
    ] = None,
    now: Annotated[str | None, typer.Option(help="As of this time.", metavar="TIME")] = None,
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
    from greasecheck.cli.past_soaks import past_soaks  # noqa: PLC0415 - loads numpy
    from greasecheck.cli.risk_cases import skull_cases  # noqa: PLC0415 - loads scipy
    from greasecheck.predict.yellowing import yellowing_risk  # noqa: PLC0415 - loads scipy
    from greasecheck.predict.yellowing_check import check_yellowing  # noqa: PLC0415 - sklearn
    from greasecheck.predict.yellowing_fit import learn_yellowing  # noqa: PLC0415 - loads scipy

    at = parse_time(now)
    with logbook_options.open_logbook(logbook) as book:
        every = skull_cases(book, past_soaks(book, at), at, with_fit=fit)
    whitened = treated_skulls(every)
    cases = tuple({case.known.name: case for case in every}.values())
    model, check = learn_yellowing(whitened), check_yellowing(whitened)
    photos = worth_a_photo(model, cases, at)
    shown = _named(cases, skulls)
    risks = [yellowing_risk(model, case.known) for case in shown]
    if as_json:
        print_json(
            {
                "skulls": [_skull_json(*pair) for pair in zip(shown, risks, strict=True)],
                "model": _model_json(model, check),
                "photos": [_photo_json(cases, photo) for photo in photos],
            }
        )
        return
    lines = [line for pair in zip(shown, risks, strict=True) for line in risk_lines(*pair)]
    lines += [*photo_lines(cases, photos), *trust_lines(model, check)]
    typer.echo("\n".join(lines))


def treated_skulls(cases: Sequence[SkullCase]) -> list[FinishedSkull]:
    """Return each whitening of each skull, with what it teaches."""
    return [
        treated
        for case in cases
        if case.whitened_at is not None
        for treated in (*case.earlier, case.known)
    ]


def _named(cases: Sequence[SkullCase], names: list[str] | None) -> list[SkullCase]:
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
                hint="see their names: greasecheck skull list",
            )
    return [by_name[name] for name in names]


def worth_a_photo(
    model: YellowingModel, cases: Sequence[SkullCase], now: datetime
) -> tuple[FollowUpValue, ...]:
    """Return what follow-up photos of the whitened skulls still at hand would teach."""
    from greasecheck.cli.risk_cases import Standing  # noqa: PLC0415 - loads scipy
    from greasecheck.predict.yellowing import follow_up_values  # noqa: PLC0415 - loads scipy

    at_hand = [
        (case.known, (now - case.whitened_at) / timedelta(days=1))
        for case in cases
        if case.whitened_at is not None and case.standing is Standing.WHITENED
    ]
    values = follow_up_values(model, [known for known, _ in at_hand], [days for _, days in at_hand])
    return tuple(value for value in values if value.information_bits >= LEAST_BITS)


def risk_lines(case: SkullCase, found: YellowingRisk) -> list[str]:
    """Return a risk in words, one line a reason."""
    low, high = next(
        (part.low, part.high) for part in found.intervals if part.probability == SHOWN_PROBABILITY
    )
    head = f"{case.known.name} ({case.species or 'species unknown'}, {case.standing}): "
    if case.standing == "yellowed":
        head += "it has yellowed"
    else:
        head += f"yellows later with {found.probability:.0%} (8 in 10: {low:.0%} to {high:.0%})"
    lines = [head, *(f"  {reason.words}" for reason in found.reasons)]
    if found.unmeasured:
        names = ", ".join(name.replace("_", " ") for name in found.unmeasured)
        lines.append(f"  not known: {names}")
    return lines


def photo_lines(cases: Sequence[SkullCase], photos: Sequence[FollowUpValue]) -> list[str]:
    """Return the follow-up photos that would teach most, in words."""
    lines = [
        f"  {photo.name}: from {_photo_at(cases, photo).astimezone():%Y-%m-%d} "
        f"({photo.information_bits:.3f} bit)"
        for photo in photos[:MOST_PHOTOS]
    ]
    return ["follow-up photos that would teach most:", *lines] if lines else []


def _photo_at(cases: Sequence[SkullCase], photo: FollowUpValue) -> datetime:
    """Return when the photo is to be taken; only whitened skulls are asked for."""
    whitened = {case.known.name: case.whitened_at for case in cases if case.whitened_at}
    return whitened[photo.name] + timedelta(days=photo.day)


def trust_lines(model: YellowingModel, check: ModelCheck | None) -> list[str]:
    """Return how far to trust the risks, in words."""
    from greasecheck.predict.yellowing_prior import yellowing_prior_words  # noqa: PLC0415 - numpy

    if not model.outcomes:
        return [f"no follow-up yet; assumed: {yellowing_prior_words()}"]
    seen = f"learned from {model.outcomes} follow-ups, {model.yellowed} of them yellowed"
    if check is None:
        return [f"{seen}: too few to check the risks against; mostly common practice"]
    verdict = "better than" if check.brier < check.brier_base_rate else "no better than"
    return [
        f"{seen}; foretelling them unseen it is {verdict} one risk for all "
        f"(Brier {check.brier:.3f} against {check.brier_base_rate:.3f})"
    ]


def _skull_json(case: SkullCase, found: YellowingRisk) -> dict[str, object]:
    return {
        "skull": case.known.name,
        "species": case.species,
        "standing": case.standing,
        "whitened_at": plain(case.whitened_at),
        "looks": plain(case.known.looks),
        **plain(found),
    }


def _model_json(model: YellowingModel, check: ModelCheck | None) -> dict[str, object]:
    from greasecheck.predict.yellowing_prior import yellowing_prior_words  # noqa: PLC0415 - numpy

    return {
        "outcomes": model.outcomes,
        "yellowed": model.yellowed,
        "without_outcome": model.without_outcome,
        "pareto_k": model.pareto_k,
        "assumed": yellowing_prior_words(),
        "check": plain(check),
    }


def _photo_json(cases: Sequence[SkullCase], photo: FollowUpValue) -> dict[str, object]:
    return {**plain(photo), "photo_at": plain(_photo_at(cases, photo))}
