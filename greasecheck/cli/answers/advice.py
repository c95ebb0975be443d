"""Commands that turn numbers into decisions: advice for each tub, the stages of each skull."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.answers.advice_json import advice_json
from greasecheck.cli.shared import logbook_options as options
from greasecheck.cli.shared.clock import parse_time
from greasecheck.cli.shared.options import AsJson
from greasecheck.cli.shared.output import print_json, with_progress
from greasecheck.cli.shared.plain import plain
from greasecheck.words.times import NEVER

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.garage.skull_stages import SkullLife
    from greasecheck.garage.tub_advice import PatchPhoto
    from greasecheck.predict.advice.change_interval import ChangeAdvice
    from greasecheck.predict.advice.decisions import TubAdvice
    from greasecheck.predict.advice.done import DoneAdvice

NOTHING_SOAKS = "no skull degreases in it, or it holds no water"


def register(app: typer.Typer) -> None:
    """Add the commands to the app."""
    app.command()(advice)
    app.command()(stages)


def advice(
    tubs: options.TubWords = None,
    change_price: Annotated[
        float | None,
        typer.Option(help="What one water change costs you: soap, heat, time.", min=0.0),
    ] = None,
    day_price: Annotated[
        float | None, typer.Option(help="What one more day of soaking costs you.", min=0.001)
    ] = None,
    sure: Annotated[
        float | None,
        typer.Option(
            help="How sure clear water must be before a skull is done, 0.5 to 0.99.",
            min=0.5,
            max=0.99,
        ),
    ] = None,
    now: options.AsOf = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Advise on each tub: change its water or wait, stalled or not, which skulls are done.

    Example: greasecheck advice 12 14-16 --change-price 3 --day-price 2
    """
    from greasecheck.garage.tub_advice import (  # noqa: PLC0415 - loads scipy
        Prices,
        advise_tubs,
        patch_photos,
    )

    with options.open_logbook(logbook) as book:
        numbers = options.named_tubs(book, tubs)
        found = advise_tubs(
            book,
            numbers,
            parse_time(now),
            prices=Prices(change=change_price, day=day_price),
            sure=sure,
        )
        advised = [
            (tub, one, patch_photos(book, tub, one))
            for tub, one in with_progress(found, len(numbers), "weighing")
        ]
    if as_json:
        print_json({"tubs": [advice_json(*each) for each in advised]})
        return
    for each in advised:
        typer.echo("\n".join(advice_lines(*each)))


def advice_lines(tub: int, one: TubAdvice | None, photos: Sequence[PatchPhoto]) -> list[str]:
    """Return a tub's advice in words, each decision with its reasons below it."""
    if one is None:
        return [f"tub {tub}: {NOTHING_SOAKS}"]
    change, stall = one.change, one.stall
    began = f" since {_day(stall.began_at)}" if stall.began_at else ""
    lines = [
        f"tub {tub}: clear {_day(one.forecast.dates.quantile(0.5))} (1 in 2),"
        f" {_day(one.forecast.dates.quantile(0.9))} (9 in 10)",
        f"  water: {change.verdict}{_next_change(change)}",
        *(f"    {reason}" for reason in change.reasons),
        f"  pace: {stall.verdict}{began}",
        *(f"    {reason}" for reason in stall.reasons),
    ]
    if stall.verdict == "stalled":
        lines.append(f"    when you found all well: greasecheck tub {tub} --checked now")
    lines += [line for skull in one.skulls for line in _skull_lines(skull)]
    if len(one.skulls) > 1 and any(skull.bone.looks == 0 for skull in one.skulls):
        lines.append("  say which skull lies there: greasecheck read PHOTO --again --skull NAME")
    lines += [
        f"  see where {photo.skull} is yellow: greasecheck read --overlay found/ {photo.path}"
        for photo in photos
    ]
    return lines + [f"  note: {note}" for note in one.forecast.notes]


def _next_change(change: ChangeAdvice) -> str:
    return f" until {_day(change.due_at)}" if change.verdict == "wait" else ""


def _skull_lines(skull: DoneAdvice) -> list[str]:
    return [f"  {skull.name}: {skull.verdict}", *(f"    {reason}" for reason in skull.reasons)]


def _day(when: datetime | None) -> str:
    return f"{when.astimezone():%Y-%m-%d}" if when else NEVER


def stages(
    skulls: options.SkullNames = None,
    now: options.AsOf = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Show where each skull stands, what is next for it, and when its owner can have it.

    Example: greasecheck stages "fox 3"
    """
    from greasecheck.garage.skull_stages import (  # noqa: PLC0415 - loads scipy
        advice_for,
        named_skulls,
        skull_lives,
    )

    at = parse_time(now)
    with options.open_logbook(logbook) as book:
        named = named_skulls(book, skulls or ())
        lives = skull_lives(book, named, advice_for(book, named, at), at)
    if as_json:
        print_json({"skulls": plain(lives)})
        return
    for life in lives:
        typer.echo("\n".join(stage_lines(life)))


def stage_lines(life: SkullLife) -> list[str]:
    """Return a skull's stage in words."""
    stage = life.stage
    since = f" since {_day(stage.since)}" if stage.since else ""
    when = f" on {_day(stage.next_at)}" if stage.next_at else ""
    lines = [f"{life.name}: {stage.stage}{since}"]
    if stage.next_step:
        lines.append(f"  next{when}: {stage.next_step}")
    if stage.promise_at:
        owner = f" to {life.owner}" if life.owner else ""
        lines.append(f"  can be promised{owner} for {_day(stage.promise_at)} (9 in 10)")
    return lines
