"""Which printed tag is whose, by the ids in calibration/tag_ids.csv."""

from __future__ import annotations

from functools import cache

from greasecheck.errors import SheetError
from greasecheck.model import Tag, TagOwner
from greasecheck.reference.folder import data_folder
from greasecheck.reference.lookup import read_lookup

TAG_DICTIONARY = "DICT_4X4_1000"  # begins with the markers of the smaller 4x4 dictionaries


def marker_of(tag: Tag) -> int:
    """Return the id of the marker on a tag.

    Raises
    ------
    SheetError
        When there is no tag of that number.

    Examples
    --------
    >>> marker_of(Tag(owner=TagOwner.TUB, number=12)), marker_of(Tag(owner=TagOwner.TUB, number=1))
    (12, 250)
    """
    markers = {known: marker for marker, known in _tags().items()}
    if tag in markers:
        return markers[tag]
    last = max(known.number for known in markers if known.owner is tag.owner)
    raise SheetError(
        f"there is no tag for {tag.owner} {tag.number}",
        hint=f"number the {tag.owner}s' tags from 1 to {last}",
    )


def tag_with(marker_id: int) -> Tag | None:
    """Return the tag that bears a marker; None when no tag does."""
    return _tags().get(marker_id)


@cache
def tag_markers() -> tuple[int, ...]:
    """Return the ids of the markers of all tags, in order."""
    return tuple(sorted(_tags()))


@cache
def _tags() -> dict[int, Tag]:
    table = read_lookup(data_folder("calibration") / "tag_ids.csv")
    rows = zip(*(table.texts(name) for name in ("marker_id", "of", "number")), strict=True)
    return {
        int(marker): Tag(number=int(number), owner=TagOwner(owner))
        for marker, owner, number in rows
    }
