"""The command that says when tubs run clear."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.answers.forecast_json import forecast_json
from greasecheck.cli.shared import logbook_options, options
from greasecheck.cli.shared.output import print_json
from greasecheck.model import Recipe
from greasecheck.predict.records import ClearRule, Plan
from greasecheck.words.dates import parse_time
from greasecheck.words.figures import odds_words

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

    from greasecheck.predict.forecast_records import ClearDates, Forecast
    from greasecheck.predict.records import FinishedTub, TubHistory

NEVER = "beyond 10 years"


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
    from greasecheck.predict.outlook.forecasting import forecast_tubs  # noqa: PLC0415 - loads scipy

    at = parse_time(now)
    histories, ended = _histories(tubs, logbook, at)
    found = forecast_tubs(
        tuple(histories.values()),
        at,
        plan=Plan(change_interval_days=every_days, temperature_c=temperature_c, recipe=recipe),
        rule=ClearRule(soak_days=soak_days, gain_per_m=gain_per_m, grease_left_share=left_share),
        finished=ended,
    )
    promise = parse_time(by) if by else None
    by_tub = dict(zip(histories, found, strict=True))
    if as_json:
        bodies = [forecast_json(tub, one, by=promise, curve=curve) for tub, one in by_tub.items()]
        print_json({"tubs": bodies})
    else:
        for tub, one in by_tub.items():
            typer.echo("\n".join(forecast_lines(tub, one, promise)))
        if not by_tub:
            typer.echo("no skull degreases in these tubs, or they hold no water")


def _histories(
    tubs: list[str] | None, logbook: Path | None, now: datetime
) -> tuple[dict[int, TubHistory], tuple[FinishedTub, ...]]:
    """Return the stories of tubs and of finished ones from the logbook."""
    from greasecheck.garage.series import finished_tubs, tub_history  # noqa: PLC0415 - loads numpy

    with logbook_options.open_logbook(logbook) as book:
        numbers = logbook_options.named_tubs(book, tubs)
        found = {number: tub_history(book, number, now) for number in numbers}
        ended = finished_tubs(book)
    return {number: story for number, story in found.items() if story}, ended


def forecast_lines(tub: int, found: Forecast, by: datetime | None) -> list[str]:
    """Return a forecast in words, one line a fact, within 80 columns where the notes allow."""
    low, median, high = found.gain_now_per_m
    least, left, most = (f"{share:.0%}" for share in found.grease_left_share)
    then = (f"{share:.0%}" for share in found.left_when_clear_share)
    lines = [
        f"tub {tub}: degreased {_three_days(found.degreased)}",
        f"  grease left now: {left} ({least} to {most}); degreased now:"
        f" {odds_words(found.probability_degreased_now)}",
        f"  runs clear {_three_days(found.dates)}",
        f"  clear now: {odds_words(found.probability_clear_now)}; fresh water left"
        f" {found.rule.soak_days:g} days would gain",
        f"    {median:.1f} per m ({low:.1f} to {high:.1f}), in the standard volume",
        "  grease left when it runs clear: {1} ({0} to {2})".format(*then),
    ]
    if by is not None:
        lines.append(
            f"  by {by.astimezone():%Y-%m-%d}: degreased"
            f" {odds_words(found.degreased.probability_by(by))},"
            f" clear {odds_words(found.dates.probability_by(by))}"
        )
    if len(found.skulls) > 1:
        lines += [
            line
            for skull in found.skulls
            for line in (
                f"  {skull.name} ({skull.species}): degreased {_three_days(skull.degreased)}",
                f"    the slowest with {odds_words(skull.slowest_probability)}",
            )
        ]
    return lines + [f"  note: {note}" for note in found.notes]


def _three_days(dates: ClearDates) -> str:
    days = [dates.quantile(p) for p in (0.1, 0.5, 0.9)]
    early, middle, late = (f"{day.astimezone():%Y-%m-%d}" if day else NEVER for day in days)
    return f"{middle} (1 in 2), {early} to {late} (8 in 10)"
