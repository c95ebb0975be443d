"""The command that compares recipes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from greasecheck.cli.shared import logbook_options
from greasecheck.cli.shared.options import AsJson
from greasecheck.cli.shared.output import print_json, with_progress
from greasecheck.cli.shared.plain import plain
from greasecheck.words.dates import parse_time
from greasecheck.words.figures import odds_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.garage.recipes import LeftOut
    from greasecheck.predict.recipes.records import RateRatio, RecipeComparison


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

    with logbook_options.open_logbook(logbook) as book:
        fits = all_soak_fits(book, parse_time(now), progress=with_progress)
    rates, left_out = soak_rates(fits)
    found = compare_recipes(rates)
    if as_json:
        body = {**plain(found), "left_out": plain(left_out), "assumed": comparison_prior_words()}
        print_json(body)
    else:
        typer.echo("\n".join(comparison_lines(found, left_out)))


def comparison_lines(found: RecipeComparison, left_out: Sequence[LeftOut]) -> list[str]:
    """Return a comparison in words, one line a fact."""
    lines = [line for ratio in found.ratios for line in _ratio_lines(ratio)]
    lines += [f"note: {note}" for note in found.notes]
    return lines + [f"left out: {one.name}: {one.why}" for one in left_out]


def _ratio_lines(ratio: RateRatio) -> list[str]:
    from greasecheck.garage.recipes import more_words  # noqa: PLC0415 - loads scipy

    counts = f"{ratio.tubs} against {ratio.baseline_tubs} tubs"
    head = f"{ratio.recipe} against {ratio.baseline}: {ratio.verdict} ({counts})"
    lines = [head, f"  {ratio.reason}"]
    if ratio.ratio is not None and ratio.probability_faster is not None:
        spans = ", ".join(
            f"{part.low:.2f} to {part.high:.2f} ({part.probability:.0%})"
            for part in ratio.intervals
        )
        lines += [
            f"  rate {ratio.ratio:.2f} times as fast: {spans}",
            f"  faster with {odds_words(ratio.probability_faster)} probability; "
            f"before adjusting {ratio.plain_ratio:.2f} times",
        ]
    return lines + [f"  {more_words(ratio)}"] * (ratio.more_tubs_each != 0)
