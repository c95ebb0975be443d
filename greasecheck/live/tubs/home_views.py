"""The first page: one row a tub, what is due first, and what is next for skulls."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import redirect, render_template, request, url_for

from greasecheck.answers import Finding
from greasecheck.live.tubs.answering import garage_answers

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

    from greasecheck.live.parts import Live


def show_home(live: Live) -> ResponseReturnValue:
    """Show the rows; a logbook without tubs begins with the setup."""
    page = garage_answers(live)
    if not page.tubs and "entry" not in request.args:
        return redirect(url_for("setup"), 303)
    return render_template("home.html.j2", page=page)


def show_changes(live: Live) -> str:
    """Show the tubs whose water can be changed, those that are due ticked."""
    page = garage_answers(live)
    due = {
        answer.tub
        for answer in page.tubs
        if any(task.finding is Finding.CHANGE_WATER for task in answer.tasks)
    }
    filled = [answer for answer in page.tubs if page.today[answer.tub].bath is not None]
    ordered = sorted(filled, key=lambda answer: (answer.tub not in due, answer.tub))
    return render_template("changes.html.j2", page=page, tubs=ordered, due=due)


def count_unweighed(live: Live) -> dict[str, int]:
    """Return for the page's script how many tubs are still being worked out."""
    return {"being_weighed": garage_answers(live).being_weighed}
