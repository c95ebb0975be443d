"""The command that shows how a skull looked: lines, a strip, a page for its owner."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.shared import logbook_options, options
from greasecheck.cli.shared.output import print_json
from greasecheck.errors import LogbookError
from greasecheck.words.figures import patch_share_words
from greasecheck.words.times import counted, exact

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.garage.pictures.cut_outs import CutOut
    from greasecheck.logbook.looks import Look
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.report.skull.owner import LookLine


def register(app: typer.Typer) -> None:
    """Add the command to the app."""
    app.command()(looks)


def looks(
    name: logbook_options.SkullName,
    strip: Annotated[
        Path | None,
        typer.Option(help="Draw the looks side by side into this PNG.", metavar="FILE"),
    ] = None,
    page: Annotated[
        Path | None,
        typer.Option(help="Write a page for its owner into this HTML file.", metavar="FILE"),
    ] = None,
    patches: options.PatchFiles = None,
    now: logbook_options.AsOf = None,
    logbook: logbook_options.LogbookFile = None,
    as_json: options.AsJson = False,
) -> None:
    """Show how a skull looked, as lines, as a strip of pictures, as a page for its owner.

    Photos of its sides within an hour are one look.

    Example: greasecheck looks "fox 3" --strip fox3.png --page fox3.html
    """
    from greasecheck.logbook.looks import looks_of  # noqa: PLC0415 - loads OpenCV
    from greasecheck.logbook.skulls.skulls import name_of, skull_named  # noqa: PLC0415 - as above

    with logbook_options.opened_as_of(logbook, now) as (book, at):
        name = skull_named(book, name_of(book, name)).name
        if strip is not None:
            _draw_strip(book, name, at, strip, patches)
        if page is not None:
            _write_page(book, name, at, page, patches)
        if strip or page:
            return
        found = [one for one in looks_of(book, name) if one.at <= at]
    if as_json:
        print_json({"skull": name, "looks": [_look_json(one) for one in found]})
        return
    for one in found:
        typer.echo(_look_line(one))
    if not found:
        typer.echo(f"no photo names {name}; name it when one is read: read --skull '{name}'")


def _draw_strip(
    book: Logbook, name: str, at: datetime, out: Path, patches: list[Path] | None
) -> None:
    """Draw a skull's looks side by side."""
    from greasecheck.garage.pictures.strip import strip_of  # noqa: PLC0415 - loads OpenCV

    strip = strip_of(_cut_outs(book, name, at, patches))
    if strip is None:
        raise LogbookError(
            f"no reading names {name}",
            hint="name the skull when its photo is read, or lay its own tag beside it",
        )
    options.write_bytes(out, strip.png, "strip")
    gone = f", {strip.gone} without their photo" if strip.gone else ""
    typer.echo(f"{out}: {counted(strip.looks, 'look')}{gone}")


def _write_page(
    book: Logbook, name: str, at: datetime, out: Path, patches: list[Path] | None
) -> None:
    """Write what was done with a skull, when, with what, and how it looks."""
    from greasecheck.garage.pictures.strip import strip_of  # noqa: PLC0415 - loads OpenCV
    from greasecheck.logbook.skulls.skulls import skull_named  # noqa: PLC0415 - as above
    from greasecheck.logbook.story import (  # noqa: PLC0415 - as above
        skull_story,
        with_changes_counted,
    )
    from greasecheck.report.skull.owner import (  # noqa: PLC0415 - as above
        OwnersPage,
        Step,
        owners_page,
    )

    known, cuts = skull_named(book, name), _cut_outs(book, name, at, patches)
    done = [one for one in skull_story(book, name) if one.kind != "reading" and one.at <= at]
    steps = with_changes_counted(done)
    strip = strip_of([one for one in cuts if one.rgb is not None])
    shown = OwnersPage(
        name=known.name,
        species=known.species,
        steps=tuple(Step(at=one.at, until=one.until, words=one.what) for one in steps),
        looks=tuple(_look_figures(one.look) for one in cuts),
        strip=strip.png if strip else None,
        absolute=bool(patches),
    )
    options.write_text(out, owners_page(shown), "page")
    typer.echo(f"{out}: {counted(len(steps), 'step')}, {counted(len(cuts), 'look')}")


def _cut_outs(
    book: Logbook, name: str, at: datetime, patches: list[Path] | None
) -> tuple[CutOut, ...]:
    from greasecheck.cli.shared.settings import build_settings  # noqa: PLC0415 - loads OpenCV
    from greasecheck.garage.pictures.cut_outs import cut_outs  # noqa: PLC0415 - as above
    from greasecheck.logbook.skulls.skulls import skull_named  # noqa: PLC0415 - as above

    skull_named(book, name)
    found = cut_outs(book, name, build_settings(patches=patches))
    return tuple(one for one in found if one.look.at <= at)


def _look_figures(look: Look) -> LookLine:
    from greasecheck.report.skull.owner import LookLine  # noqa: PLC0415 - loads jinja2

    return LookLine(
        at=look.at,
        sides=len(look.sides),
        yi_e313=look.yi_e313,
        yi_std=look.yi_std,
        yellow_patch_share=look.yellow_patch_share,
        yellow_share_std=look.yellow_share_std,
    )


def _look_json(look: Look) -> dict[str, object]:
    return {
        "at": look.at.isoformat(),
        "yi_e313": look.yi_e313,
        "yi_std": look.yi_std,
        "yellow_patch_share": look.yellow_patch_share,
        "yellow_share_std": look.yellow_share_std,
        "state": look.state,
        "verdict": look.verdict,
        "sides": [
            {
                "key": side.key,
                "photo": side.photo_path,
                "yi_e313": side.bone_yi_e313,
                "yi_std": side.bone_yi_std,
                "yellow_patch_share": side.bone_yellow_patch_share,
                "yellow_share_std": side.bone_yellow_share_std,
                "area_mm2": side.bone_area_mm2,
                "worst": side is look.worst,
            }
            for side in look.sides
        ],
    }


def _look_line(look: Look) -> str:
    share, share_std = look.yellow_patch_share, look.yellow_share_std
    words = f"{exact(look.at):>18}  YI {look.yi_e313:.1f} ± {look.yi_std:.1f}"
    if share is not None:
        words += f"  yellow {patch_share_words(share, share_std)}"
    if len(look.sides) > 1:
        worst = Path(look.worst.photo_path or "by hand").name
        words += f"  {len(look.sides)} sides, the worst {worst}"
    return f"{words}  {look.verdict}"
