"""The command that says when tubs run clear."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.answers.forecast_json import forecast_json
from greasecheck.cli.answers.tub_lines import note_lines
from greasecheck.cli.shared import logbook_options, options
from greasecheck.cli.shared.clock import given_time
from greasecheck.cli.shared.output import print_json
from greasecheck.errors import LogbookError
from greasecheck.model import Recipe
from greasecheck.predict.records import ClearRule, Plan
from greasecheck.words.figures import CLEARS_LAST, clear_limit_words, odds_words, two_digits
from greasecheck.words.reasons import left_range_words, no_date_words
from greasecheck.words.times import NEVER, day_words

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from greasecheck.model.reasons import ReasonCode
    from greasecheck.predict.advice.decisions import TubAdvice
    from greasecheck.predict.forecast_records import ClearDates


def register(app: typer.Typer) -> None:
    """Add the command to the app."""
    app.command()(forecast)


def forecast(
    tubs: logbook_options.TubWords = None,
    logbook: logbook_options.LogbookFile = None,
    now: logbook_options.AsOf = None,
    by: Annotated[str | None, typer.Option(help="How sure is it clear by this date?")] = None,
    every_days: Annotated[
        float | None, typer.Option(help="What if the water were changed every so many days?")
    ] = None,
    temperature_c: Annotated[
        float | None, typer.Option(help="What if the bath were kept at so many degrees C?")
    ] = None,
    recipe: Annotated[
        Recipe | None, typer.Option(help="What if the next baths were of this recipe?")
    ] = None,
    gain_per_m: Annotated[
        float, typer.Option(help="Clear: a fresh bath left alone gains less than this [1/m].")
    ] = 3.0,
    soak_days: Annotated[
        float, typer.Option(help="For how long that bath is left alone [days].")
    ] = 14.0,
    left_share: Annotated[
        float, typer.Option(help="Degreased: less than this share of the grease is left.")
    ] = 0.1,
    curve: Annotated[bool, typer.Option("--curve", help="Add the haze curve (JSON).")] = False,
    as_json: options.AsJson = False,
) -> None:
    """Say when each tub runs clear and is degreased: dates with odds, and how far to trust them.

    Example: greasecheck forecast 12 14-16 --by 2027-03-01
    """
    from greasecheck.garage.tub_advice import planned_tubs  # noqa: PLC0415 - loads scipy

    plan = Plan(change_interval_days=every_days, temperature_c=temperature_c, recipe=recipe)
    rule = ClearRule(soak_days=soak_days, gain_per_m=gain_per_m, grease_left_share=left_share)
    promise = given_time(by) if by else None
    with logbook_options.opened_as_of(logbook, now) as (book, at):
        if promise is not None and promise.astimezone().date() < at.astimezone().date():
            raise LogbookError("that day has gone by", hint="ask about a day to come")
        numbers = logbook_options.named_tubs(book, tubs)
        found = dict(planned_tubs(book, numbers, at, plan, rule))
    by_tub = {tub: one for tub, one in found.items() if one is not None}
    if as_json:
        bodies = [forecast_json(tub, one, by=promise, curve=curve) for tub, one in by_tub.items()]
        print_json({"tubs": bodies})
    else:
        for tub, one in by_tub.items():
            typer.echo("\n".join(forecast_lines(tub, one, promise)))
        if not by_tub:
            typer.echo("no skull soaks in water here; see what is missing: greasecheck today")


def forecast_lines(tub: int, advice: TubAdvice, by: datetime | None) -> list[str]:
    """Return a forecast in words, one line a fact, within 80 columns where the notes allow."""
    found = advice.forecast
    low, median, high = map(two_digits, found.gain_in_tub_per_m)
    whose = ", greasiest skull" if len(found.skulls) > 1 else ""
    limit = clear_limit_words(found.clear_in_tub_per_m, found.litres_over_standard)
    lines = [
        f"tub {tub}: degreased {_three_days(advice.degreased, advice.withheld)}",
        f"  grease left now{whose}: {left_range_words(*found.grease_left_share)}; degreased now:"
        f" {odds_words(advice.probability_degreased_now)}",
        f"  runs clear {_three_days(advice.runs_clear, advice.withheld)}",
        f"  clear now: {odds_words(found.probability_clear_now)}; fresh water left"
        f" {found.rule.soak_days:g} days would gain",
        f"    {median} per m ({low} to {high})",
        f"    clear is below {limit}",
        f"  grease left when it runs clear: {left_range_words(*found.left_when_clear_share)}",
    ]
    if found.clears_last and advice.withheld is None:
        lines.append(f"  clear comes last: {CLEARS_LAST}")
    if by is not None and advice.degreased and advice.runs_clear:
        lines.append(
            f"  by {day_words(by)}: degreased"
            f" {odds_words(advice.degreased.probability_by(by))},"
            f" clear {odds_words(advice.runs_clear.probability_by(by))}"
        )
    if len(found.skulls) > 1:
        lines += _skull_lines(advice)
    return [*lines, *note_lines(tub, found.notes)]


def _skull_lines(advice: TubAdvice) -> Iterator[str]:
    withheld = {one.name: one.withheld for one in advice.skulls}
    for skull in advice.forecast.skulls:
        days = _three_days(advice.skull_dates.get(skull.name), withheld.get(skull.name))
        yield f"  {skull.name} ({skull.species}): degreased {days}"
        yield f"    the last of them with {odds_words(skull.slowest_probability)}"


def _three_days(dates: ClearDates | None, withheld: ReasonCode | None) -> str:
    if dates is None:
        return no_date_words(withheld) if withheld else NEVER
    early, middle, late = (day_words(dates.quantile(share)) for share in (0.1, 0.5, 0.9))
    return f"{middle} (1 in 2), {early} to {late} (8 in 10)"
