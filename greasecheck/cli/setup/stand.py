"""Commands that set up the stand once: the clear-water reference and the turbidity scale."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.shared import logbook_options, options
from greasecheck.cli.shared.output import print_json
from greasecheck.errors import DataFileError
from greasecheck.logbook.readings.standards import photos_read_since, put_in_force
from greasecheck.logbook.records import Standard, StandardKind
from greasecheck.logbook.store.book import default_path
from greasecheck.words.photos.clear_water import ONE_PHOTO

if TYPE_CHECKING:
    from collections.abc import Mapping

    from greasecheck.measure.reading import ReadSettings
    from greasecheck.measure.turbidity import Dilution, TurbidityScale
    from greasecheck.measure.water.reference import ClearWater

READ_AGAIN = (
    "photos taken since then were read without it: read them once more, greasecheck read PHOTOS "
    "--again"
)
ALIKE_PER_M = 0.3  # a jar put back, wiped and lit anew differs by less

SERIES_HINT = (
    "give it the columns turbidity and turbidity_std, and either photo or "
    "attenuation_per_m and std_per_m"
)


OutFile = Annotated[
    Path | None,
    typer.Option("--out", help="Write it to a file instead of the logbook.", metavar="FILE"),
]


TapWater = Annotated[
    bool,
    typer.Option("--tap-water", help="It is tap water, though a tub's tag is in the slot."),
]


def register(app: typer.Typer, *, hidden: bool = False) -> None:
    """Add the commands to the app."""
    app.command(hidden=hidden)(clear)
    app.command(hidden=hidden)(calibrate)


def clear(
    photos: Annotated[list[Path], typer.Argument(help="One or several photos of clear water.")],
    out: OutFile = None,
    logbook: logbook_options.LogbookFile = None,
    path_mm: options.PathMm = 60.0,
    tap_water: TapWater = False,
    patches: options.PatchFiles = None,
    sheet: options.SheetFile = None,
    lens: options.LensFile = None,
    zone: options.ZoneName = None,
    as_json: options.AsJson = False,
) -> None:
    """Make the clear-water reference from photos of the jar filled with clean tap water.

    It goes into the logbook and is in force from the photos' time on, unless --out names a file.

    Example: greasecheck clear tap_water.jpg --path-mm 60
    """
    from greasecheck.cli.shared.settings import build_settings  # noqa: PLC0415 - loads OpenCV
    from greasecheck.measure import stand  # noqa: PLC0415 - loads OpenCV
    from greasecheck.measure.photo.file import distinct_files  # noqa: PLC0415 - as the others
    from greasecheck.measure.water.reference import make_clear_water  # noqa: PLC0415 - loads numpy
    from greasecheck.measure.water.reference_file import (  # noqa: PLC0415 - loads numpy
        clear_water_to_json,
    )

    options.ask_depth(path_mm)
    settings = build_settings(patches=patches, sheet=sheet, lens=lens, zone=zone, path_mm=path_mm)
    seen = [
        stand.view_clear_water(photo, settings, tap_water=tap_water)
        for photo in distinct_files(photos)
    ]
    made = make_clear_water(seen, path_mm)
    kind = StandardKind.CLEAR_WATER
    murkier = None if out is not None else _murkier_per_m(made, logbook)
    where = _keep_standard(kind, clear_water_to_json(made), made.taken_at, out, logbook)
    if as_json:
        print_json(
            {
                "file": where,
                "murkier_than_before_per_m": murkier,
                "doubts": [doubt for one in seen for doubt in one.doubts],
                **_clear_json(made),
            }
        )
    else:
        typer.echo(f"{where}: jar of {path_mm:g} mm, {_clear_words(made)}")
    for doubt in (doubt for one in seen for doubt in one.doubts):
        typer.echo(doubt, err=True)
    if made.photos == 1:
        typer.echo(ONE_PHOTO, err=True)
    if murkier is not None and abs(murkier) > ALIKE_PER_M:
        typer.echo(_unlike_words(murkier), err=True)


def _clear_words(made: ClearWater) -> str:
    """Say what the reference shows: the lamp's height, or the contrast kept."""
    if made.lamp_elevation_deg is None:
        return f"keeps {made.fine.mean_ratio[1]:.1%} of the contrast when clear"
    return f"the lamp stands {made.lamp_elevation_deg:.0f} degrees high"


def _murkier_per_m(made: ClearWater, logbook: Path | None) -> float | None:
    from greasecheck.garage.standards import murkier_per_m  # noqa: PLC0415 - loads OpenCV

    if not (logbook or default_path()).exists():
        return None
    with logbook_options.open_logbook(logbook) as book:
        return murkier_per_m(book, made)


def _unlike_words(murkier_per_m: float) -> str:
    """Warn of a reference that is unlike the one before; one of the two may be of murky water."""
    if murkier_per_m > 0:
        return (
            f"this water seems murkier by {murkier_per_m:.1f} per m than that of the reference "
            "before, and every reading from now on would come out too low by that. With the same "
            "jar and lamp, take it back: greasecheck undo; then use fresh tap water and a wiped "
            "jar that nothing shades"
        )
    return (
        f"this water seems clearer by {-murkier_per_m:.1f} per m than that of the reference "
        "before. With the same jar and lamp that one was shaded or not clean, and readings by it "
        "are too low by that"
    )


def _clear_json(made: ClearWater) -> dict[str, object]:
    return {
        "path_mm": made.path_mm,
        "fine_contrast_ratio": list(made.fine.mean_ratio),
        "fine_contrast_ratio_relative_std": list(made.fine.relative_std),
        "coarse_contrast_ratio": list(made.coarse.mean_ratio),
        "coarse_contrast_ratio_relative_std": list(made.coarse.relative_std),
        "taken_at": made.taken_at.isoformat(),
        "camera": made.camera,
        "photos": made.photos,
        "sheet_version": made.sheet_version,
        "lamp_elevation_deg": made.lamp_elevation_deg,
    }


def calibrate(
    series: Annotated[Path, typer.Argument(help="CSV file of the dilution series.")],
    out: OutFile = None,
    logbook: logbook_options.LogbookFile = None,
    unit: Annotated[str, typer.Option(help="Unit of the known turbidities.")] = "FNU",
    reference: options.ReferenceFile = None,
    patches: options.PatchFiles = None,
    sheet: options.SheetFile = None,
    lens: options.LensFile = None,
    as_json: options.AsJson = False,
) -> None:
    """Make the turbidity scale from a series of known dilutions, measured or photographed.

    The file has the columns turbidity and turbidity_std, and either photo (file names beside the
    series) or attenuation_per_m and std_per_m.

    Example: greasecheck calibrate formazin.csv --reference clear.json
    """
    from greasecheck.cli.shared.settings import (  # noqa: PLC0415 - loads OpenCV
        build_settings,
        standards_in_force,
    )
    from greasecheck.measure.turbidity import fit_scale, scale_to_json  # noqa: PLC0415

    settings = build_settings(patches=patches, sheet=sheet, lens=lens, reference=reference)
    settings = standards_in_force(settings, logbook)
    scale = fit_scale([_step(row, series, settings) for row in _rows(series)], unit)
    now = datetime.now(UTC)
    where = _keep_standard(StandardKind.TURBIDITY, scale_to_json(scale), now, out, logbook)
    if as_json:
        print_json({"file": where, **_scale_json(scale)})
    else:
        typer.echo(
            f"{where}: {scale.slope:.3g} ± {scale.slope_std:.2g} {unit} per 1/m, "
            f"from {scale.points} dilutions"
        )


def _scale_json(scale: TurbidityScale) -> dict[str, object]:
    return {
        "unit": scale.unit,
        "slope_per_attenuation_m": scale.slope,
        "slope_std": scale.slope_std,
        "points": scale.points,
    }


def _rows(path: Path) -> list[dict[str, str]]:
    import csv  # noqa: PLC0415 - only this command reads a series

    lines = [
        line for line in options.read_text(path, "series").splitlines() if not line.startswith("#")
    ]
    try:
        rows = [dict(row) for row in csv.DictReader(lines, strict=True)]
    except csv.Error as error:
        raise DataFileError(f"{path} is not CSV: {error}", hint=SERIES_HINT) from error
    if any(None in row for row in rows):
        raise DataFileError(
            f"{path} has a row with more cells than columns",
            hint="write decimals with a point, and quote what holds a comma",
        )
    return rows


def _step(row: Mapping[str, str], series: Path, settings: ReadSettings) -> Dilution:
    from greasecheck.measure import stand, turbidity  # noqa: PLC0415 - loads OpenCV

    try:
        known, known_std = float(row["turbidity"]), float(row["turbidity_std"])
        if "photo" in row:
            photo = series.parent / row["photo"]
            return stand.view_dilution(photo, settings, known, known_std)
        return turbidity.Dilution(
            turbidity=known,
            turbidity_std=known_std,
            attenuation_per_m=float(row["attenuation_per_m"]),
            std_per_m=float(row["std_per_m"]),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise DataFileError(
            f"{series} lacks or garbles {error} in the row {dict(row)}", hint=SERIES_HINT
        ) from error


def _keep_standard(
    kind: StandardKind, text: str, since: datetime, out: Path | None, logbook: Path | None
) -> str:
    """Write a standard to a file, or put it in force in the logbook; return where it is."""
    if out is not None:
        options.write_text(out, text, kind.replace("_", " "))
        return str(out)
    with logbook_options.open_or_make_logbook(logbook) as book:
        put_in_force(book, Standard(kind=kind, in_force_from=since, body=text))
        if photos_read_since(book, since):
            typer.echo(READ_AGAIN, err=True)
    return str(logbook or default_path())
