"""The command that compares recipes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from greasecheck.cli.shared import logbook_options
from greasecheck.cli.shared.options import AsJson
from greasecheck.cli.shared.output import print_json, with_progress
from greasecheck.cli.shared.plain import plain
from greasecheck.words.recipes import (
    days_words,
    faster_words,
    more_words,
    reason_words,
    recipe_note_words,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.garage.recipes import UncomparedSoak
    from greasecheck.model.recipe_ratios import RateRatio
    from greasecheck.predict.recipes.records import RecipeComparison


def register(app: typer.Typer) -> None:
    """Add the command to the app."""
    app.command()(recipes)


def recipes(
    now: logbook_options.AsOf = None,
    logbook: logbook_options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Compare the recipes of your tubs: which leaches faster, by how much, and how sure.

    Species and temperature are allowed for. What cannot be ranked is not ranked.

    Example: greasecheck recipes
    """
    from greasecheck.garage.recipes import soak_rates  # noqa: PLC0415 - loads scipy
    from greasecheck.garage.soaks.kept import all_soak_fits  # noqa: PLC0415 - loads scipy
    from greasecheck.predict.recipes.comparison import compare_recipes  # noqa: PLC0415 - loads scipy
    from greasecheck.predict.recipes.prior import comparison_prior_words  # noqa: PLC0415 - numpy

    with logbook_options.opened_as_of(logbook, now) as (book, at):
        fits = all_soak_fits(book, at, progress=with_progress)
    rates, left_out = soak_rates(fits)
    found = compare_recipes(rates)
    if as_json:
        body = _json(found)
        print_json({**body, "left_out": plain(left_out), "assumed": comparison_prior_words()})
    else:
        typer.echo("\n".join(comparison_lines(found, left_out)))


def comparison_lines(found: RecipeComparison, left_out: Sequence[UncomparedSoak]) -> list[str]:
    """Return a comparison in words, one line a fact."""
    lines = [line for ratio in found.ratios for line in _ratio_lines(ratio)]
    lines += [f"note: {recipe_note_words(note)}" for note in found.notes]
    return lines + [f"left out: {one.name}: {one.why}" for one in left_out]


def _json(found: RecipeComparison) -> dict[str, object]:
    return {
        **plain(found),
        "ratios": [{**plain(ratio), "reason": reason_words(ratio)} for ratio in found.ratios],
        "notes": [recipe_note_words(note) for note in found.notes],
    }


def _ratio_lines(ratio: RateRatio) -> list[str]:
    counts = f"{ratio.tubs} against {ratio.baseline_tubs} tubs"
    head = f"{ratio.recipe} against {ratio.baseline}: {ratio.verdict} ({counts})"
    lines = [head, f"  {reason_words(ratio)}"]
    if ratio.ratio is not None:
        spans = ", ".join(
            f"{part.low:.2f} to {part.high:.2f} ({part.probability:.0%})"
            for part in ratio.intervals
        )
        lines += [
            f"  rate {ratio.ratio:.2f} times as fast: {spans}",
            f"  {faster_words(ratio)}; before adjusting {ratio.plain_ratio:.2f} times",
            f"  {days_words(ratio)}",
        ]
    more = more_words(ratio)
    return [*lines, f"  {more}"] if more else lines
