"""The page of all that is not needed every day."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import render_template

from greasecheck.reference.cautions import Ingredient, cautions_for

if TYPE_CHECKING:
    from greasecheck.live.parts import Live


def show_more(_live: Live) -> str:
    """Show the ways to skulls, promises, entries, setup; a new tub; the cautions."""
    return render_template("more.html.j2", cautions=cautions_for(*Ingredient))
