"""Builds the settings for reading photos from what the options name."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.cli.shared.logbook_options import open_logbook
from greasecheck.cli.shared.options import named_sheets, read_outlines, read_text, zone_of
from greasecheck.garage.standards import with_standards
from greasecheck.logbook.store.book import default_path
from greasecheck.measure.reading import ReadSettings
from greasecheck.measure.sheet.lens import read_lens
from greasecheck.measure.turbidity import ROUGH_SCALE, scale_from_json
from greasecheck.measure.water.attenuation import Jar
from greasecheck.measure.water.reference_file import clear_water_from_json
from greasecheck.model import BoneState, Drawn, Stroke
from greasecheck.reference import known_cards, known_sheets
from greasecheck.reference.patches.values import read_patch_files

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

USUAL_PATH_MM = 60.0  # the jar the README describes


def build_settings(
    *,
    patches: Sequence[Path] | None = None,
    sheet: Path | None = None,
    lens: Path | None = None,
    reference: Path | None = None,
    scale: Path | None = None,
    zone: str | None = None,
    path_mm: float | None = None,
    dilution: float = 1.0,
    state: BoneState = BoneState.BLOTTED,
    outlines: Sequence[Path] = (),
    left_out: Sequence[Path] = (),
    tub: int | None = None,
) -> ReadSettings:
    """Read the files that the options name; what is not named takes its default.

    Raises
    ------
    DataFileError
        When a file cannot be read or holds something else.
    """
    clear = (
        clear_water_from_json(read_text(reference, "clear-water reference"), str(reference))
        if reference
        else None
    )
    sheets = named_sheets(sheet)
    charts = sheets or (*known_sheets(), *known_cards())
    return ReadSettings(
        values=read_patch_files(patches, charts) if patches else None,
        sheets=sheets,
        jar=Jar(
            clear=clear,
            path_mm=USUAL_PATH_MM if path_mm is None else path_mm,
            dilution=dilution,
            scale=scale_from_json(read_text(scale, "scale"), str(scale)) if scale else ROUGH_SCALE,
        ),
        lens=read_lens(lens) if lens else None,
        default_zone=zone_of(zone),
        bone_state=state,
        drawn=(*_drawn(outlines, Stroke.OUTLINE), *_drawn(left_out, Stroke.LEAVE_OUT)),
        tub=tub,
    )


def standards_in_force(settings: ReadSettings, logbook: Path | None) -> ReadSettings:
    """Fill in the references that the logbook has in force, when there is a logbook."""
    if not (logbook or default_path()).exists():
        return settings
    with open_logbook(logbook) as book:
        return with_standards(settings, book)


def _drawn(paths: Sequence[Path], stroke: Stroke) -> Iterator[Drawn]:
    for path in paths:
        yield from read_outlines(path, stroke)
