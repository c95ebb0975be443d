"""Where in a photo something lies, in a few words for a picture."""

from __future__ import annotations

from greasecheck.model.check_places import Place

PLACE_WORDS = {
    Place.CHART: "the sheet",
    Place.TAG: "the tag's slot",
    Place.PATCHES: "the patches",
    Place.PAPER: "the bare paper",
    Place.JAR: "the jar",
    Place.WET_BARS: "the left bars",
    Place.DRY_BARS: "the right bars",
    Place.GLASS: "the jar's glass above the water",
    Place.CONTRAST_LADDER: "the faint bars",
    Place.REST: "the dark rest",
    Place.BONE: "the bone",
    Place.DIP_LADDER: "the ladder",
}


def place_words(place: Place, *, on_card: bool = False) -> str:
    """Return the name of a place for a person; of a card it says card instead of sheet.

    Examples
    --------
    >>> place_words(Place.CHART), place_words(Place.CHART, on_card=True)
    ('the sheet', 'the card')
    """
    return "the card" if on_card and place is Place.CHART else PLACE_WORDS[place]
