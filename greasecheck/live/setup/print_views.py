"""Sheet, cards, ladders and tags as files to print."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import Response, request

from greasecheck.errors import LiveError
from greasecheck.logbook.store.table import LAST_TUB
from greasecheck.model import Tag, TagOwner
from greasecheck.reference import known_cards, known_sheets

if TYPE_CHECKING:
    from greasecheck.live.parts import Live
    from greasecheck.print.pages import Paper

MOST_TAGS, CARDS = 200, 4


def send_sheet(_live: Live) -> Response:
    """Send the sheet as a PDF."""
    from greasecheck.print.sheet import sheet_pdf  # noqa: PLC0415 - loads reportlab
    from greasecheck.reference.patches.values import nominal_values  # noqa: PLC0415 - loads numpy

    geometry = known_sheets()[-1]
    return _pdf(sheet_pdf(geometry, nominal_values(geometry), _paper()), "sheet")


def send_cards(_live: Live) -> Response:
    """Send bone cards as a PDF."""
    from greasecheck.print.sheet import cards_pdf  # noqa: PLC0415 - loads reportlab
    from greasecheck.reference.patches.values import nominal_values  # noqa: PLC0415 - loads numpy

    geometry = known_cards()[-1]
    return _pdf(cards_pdf(geometry, nominal_values(geometry), _paper(), CARDS), "cards")


def send_ladders(_live: Live) -> Response:
    """Send the dip ladders of the tubs that the address names, and how to hang them, as a PDF."""
    from greasecheck.print.ladder import ladder_pdf  # noqa: PLC0415 - loads reportlab
    from greasecheck.reference.ladder.plate import dip_ladder  # noqa: PLC0415 - only here

    tubs = _tubs(request.args.get("tubs", ""))
    return _pdf(ladder_pdf(dip_ladder(), tubs, _paper()), "ladders")


def send_tags(_live: Live) -> Response:
    """Send the tags of the tubs that the address names, such as 12 14-20, as a PDF."""
    from greasecheck.print.sheet import tags_pdf  # noqa: PLC0415 - loads reportlab

    geometry = known_sheets()[-1]
    tubs = _tubs(request.args.get("tubs", ""))
    tags = [Tag(number=number, owner=TagOwner.TUB) for number in tubs]
    return _pdf(tags_pdf(geometry, tags, _paper()), "tags")


def _tubs(text: str) -> tuple[int, ...]:
    numbers: list[int] = []
    for word in text.replace(",", " ").split():
        first, _, last = word.partition("-")
        if not (first.isdecimal() and (last or first).isdecimal()):
            raise LiveError(f"'{word[:20]}' is no tub", hint="type numbers such as 12 14-20")
        numbers += range(int(first), min(int(last or first), LAST_TUB) + 1)[: MOST_TAGS + 1]
    if not 0 < len(numbers) <= MOST_TAGS:
        hint = f"type numbers such as 12 14-20, {MOST_TAGS} at most"
        raise LiveError("for which tubs?", hint=hint)
    return tuple(dict.fromkeys(numbers))


def _paper() -> Paper:
    from greasecheck.print.pages import PAPERS  # noqa: PLC0415 - loads reportlab

    wanted = request.args.get("paper", "a4")
    return next((paper for paper in PAPERS if paper.name == wanted), PAPERS[0])


def _pdf(content: bytes, name: str) -> Response:
    answer = Response(content, mimetype="application/pdf")
    answer.headers["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return answer
