"""Shows a tub or a skull: what is asked for by its number or name alone."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import typer

from greasecheck.cli.answers.today import answer_json
from greasecheck.cli.shared.output import print_json
from greasecheck.cli.shared.plain import plain, withheld_json
from greasecheck.logbook.skulls import skulls
from greasecheck.logbook.story import shortened, skull_story
from greasecheck.logbook.today import garage_today
from greasecheck.logbook.water.baths import tub_numbered
from greasecheck.words.stages import step_words
from greasecheck.words.times import exact

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.logbook.store.book import Logbook


def show_tub(book: Logbook, number: int, at: datetime, *, as_json: bool) -> None:
    """Show how a tub stands, worked out if it is out of date."""
    from greasecheck.cli.answers.advice_json import advice_json  # noqa: PLC0415 - loads scipy
    from greasecheck.cli.answers.tub_lines import photo_lines, tub_lines  # noqa: PLC0415
    from greasecheck.garage.answers import tub_answer  # noqa: PLC0415
    from greasecheck.garage.skull_stages import skull_lives  # noqa: PLC0415 - loads scipy
    from greasecheck.garage.soaks.refresh import (  # noqa: PLC0415 - loads scipy
        advice_of_tubs,
        brief_of,
    )
    from greasecheck.garage.tub_advice import patch_photos  # noqa: PLC0415 - as above

    tub_numbered(book, number)
    [today] = garage_today(book, at, number)
    [(_, advice)] = advice_of_tubs(book, [number], at)
    photos = patch_photos(book, number, advice)
    inside = [skulls.skull_named(book, name) for name in today.skulls]
    lives = skull_lives(book, inside, {number: advice}, at)
    brief = brief_of(advice) if advice else None
    answer = replace(tub_answer(today, brief, made_at=at), is_current=True)
    if as_json:
        body = {"tub": plain(today.tub), "answer": answer_json(answer, at)}
        print_json({**body, "advice": advice_json(number, advice, photos)})
        return
    typer.echo("\n".join([*tub_lines(today, answer, advice, lives, at), *photo_lines(photos)]))


def show_skull(book: Logbook, name: str, at: datetime, *, as_json: bool) -> None:
    """Show where a skull stands, what is next for it, its story, what its owner can hear."""
    from greasecheck.cli.answers.tub_lines import skull_stage_lines  # noqa: PLC0415
    from greasecheck.garage.skull_stages import advice_for, skull_lives  # noqa: PLC0415 - scipy

    known = skulls.skull_named(book, name)
    [life] = skull_lives(book, [known], advice_for(book, [known], at), at)
    story = tuple(one for one in skull_story(book, name) if one.at <= at)
    if as_json:
        step = {"next_step": step_words(life.stage.stage, done=life.stage.done)}
        stage = {**plain(life.stage), **step, **withheld_json(life.withheld)}
        print_json({"skull": plain(known), "stage": stage, "story": plain(story)})
        return
    facts = (known.species, known.weight_class, known.owner, known.note)
    typer.echo("\n".join(skull_stage_lines(life)))
    if any(facts):
        typer.echo("  " + "  ".join(fact for fact in facts if fact))
    short = shortened(story)
    if short.left_out:
        typer.echo(f"  {short.left_out} earlier water changes and readings: --json shows them")
    for moment in short.moments:
        typer.echo(f"  {exact(moment.at):>18}  {moment.what}")
