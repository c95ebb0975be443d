"""Builds the settings for reading photos from what the options name."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.cli.shared.options import named_sheets, read_outline, read_text, zone_of
from greasecheck.measure.reading import ReadSettings
from greasecheck.measure.sheet.lens import read_lens
from greasecheck.measure.turbidity import ROUGH_SCALE, scale_from_json
from greasecheck.measure.water.attenuation import Jar
from greasecheck.measure.water.reference_file import clear_water_from_json
from greasecheck.model import BoneState
from greasecheck.reference import known_sheets
from greasecheck.reference.patch_values import read_patch_files

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

USUAL_PATH_MM = 60.0  # own choice: the jar the README describes


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
    outline: Path | None = None,
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
    return ReadSettings(
        values=read_patch_files(patches, sheets or known_sheets()) if patches else None,
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
        bone_outline_mm=read_outline(outline) if outline else None,
        tub=tub,
    )
