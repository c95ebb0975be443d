"""How two recipes compare, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.model.recipe_ratios import (
    FEWEST_TUBS,
    MOST_MORE_TUBS,
    Hindrance,
    RecipeNoteCode,
    RecipeVerdict,
)
from greasecheck.words.figures import odds_words

if TYPE_CHECKING:
    from greasecheck.model.recipe_ratios import RateRatio, RecipeNote

REASONS = {
    RecipeVerdict.FASTER: "{recipe} is faster than {baseline} with at least 95% probability",
    RecipeVerdict.SLOWER: "{recipe} is slower than {baseline} with at least 95% probability",
    RecipeVerdict.ALIKE: "{recipe} and {baseline} differ by less than 15%, 9 in 10 sure",
    RecipeVerdict.OPEN: "the tubs so far leave it open which is faster",
}
NOTES = {
    RecipeNoteCode.NO_RATES: "No tub has readings enough yet to tell how fast it leaches.",
    RecipeNoteCode.ONE_RECIPE: "All tubs are of {names}: nothing to compare.",
    RecipeNoteCode.NO_TEMPERATURE: "No temperature is logged for these, which count for less:"
    " {names}.",
    RecipeNoteCode.WARMTH_APART: "The recipes were held at different temperatures; the effect of"
    " warmth is taken off by an assumed activation energy, which widens the ranges.",
}


def reason_words(ratio: RateRatio) -> str:
    """Return why two recipes are ranked as they are, or why they cannot be ranked."""
    if ratio.hindrance is Hindrance.FEW_TUBS:
        counts = {ratio.recipe: ratio.tubs, ratio.baseline: ratio.baseline_tubs}
        scarce = " and ".join(
            f"{count} tub of {recipe}" for recipe, count in counts.items() if count < FEWEST_TUBS
        )
        return f"not enough tubs: only {scarce}; at least {FEWEST_TUBS} of each are needed"
    if ratio.hindrance is Hindrance.SPECIES_APART:
        return (
            f"{ratio.recipe} and {ratio.baseline} never soaked the same known species, so that the"
            " effect of the recipe cannot be separated from that of the species; put both on one"
            " species"
        )
    return REASONS[ratio.verdict].format(recipe=ratio.recipe, baseline=ratio.baseline)


def faster_words(ratio: RateRatio) -> str:
    """Return the probability that a ranked recipe is the faster one."""
    return f"faster with {odds_words(ratio.probability_faster or 0.0)} probability"


def days_words(ratio: RateRatio) -> str:
    """Return what the ratio of two ranked recipes means in days until degreased."""
    assert ratio.ratio is not None
    span = ratio.eight_in_ten
    low, middle, high = (round(100 / rate) for rate in (span.high, ratio.ratio, span.low))
    return (
        f"where {ratio.baseline} takes 100 days, {ratio.recipe} takes about {middle}"
        f" (8 in 10: {low} to {high})"
    )


def more_words(ratio: RateRatio) -> str:
    """Return how many more tubs would settle two recipes; empty when they are settled."""
    if ratio.more_tubs_each == 0:
        return ""
    if ratio.more_tubs_each is None:
        return f"they may well be equal: {MOST_MORE_TUBS} more tubs of each might not settle it"
    return (
        f"{ratio.more_tubs_each} more tubs of each, on the same species, would settle it"
        " in 4 cases of 5"
    )


def recipe_note_words(note: RecipeNote) -> str:
    """Return what to know before believing a comparison of recipes.

    Examples
    --------
    >>> from greasecheck.model.recipe_ratios import RecipeNote
    >>> recipe_note_words(RecipeNote(code=RecipeNoteCode.ONE_RECIPE, names=("soap",)))
    'All tubs are of soap: nothing to compare.'
    """
    return NOTES[note.code].format(names=", ".join(note.names))
