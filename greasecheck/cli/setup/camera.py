"""Commands about the camera: estimate its lens once, check what it is worth."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.shared import options
from greasecheck.cli.shared.output import print_json, with_progress

if TYPE_CHECKING:
    from collections.abc import Iterator

    from greasecheck.measure.sheet.lens_estimate import LensEstimate
    from greasecheck.model import Photo
    from greasecheck.model.camera_check import CameraCheck


def register(app: typer.Typer, *, hidden: bool = False) -> None:
    """Add the commands to the app."""
    app.command(hidden=hidden)(camera)
    app.command("camera-check", hidden=hidden)(check)


def camera(
    photos: Annotated[
        list[Path], typer.Argument(help="Three or more photos of the flat sheet, turned about.")
    ],
    out: Annotated[Path, typer.Option("--out", help="Where to write it.", metavar="FILE")],
    sheet: options.SheetFile = None,
    as_json: options.AsJson = False,
) -> None:
    """Estimate the lens of a fixed camera once, from a few photos of the sheet.

    Take 5 to 8 photos with the sheet on a flat board, turned 20 to 30 degrees left, right, up and
    down, in the middle and near the corners of the frame; do not zoom in between.

    Example: greasecheck camera lens_1.jpg lens_2.jpg lens_3.jpg --out lens.json
    """
    from greasecheck.measure.sheet.lens import lens_to_json  # noqa: PLC0415 - loads OpenCV
    from greasecheck.measure.sheet.lens_estimate import estimate_lens  # noqa: PLC0415 - loads OpenCV

    found = estimate_lens(_loaded(photos), options.named_sheets(sheet))
    options.write_text(out, lens_to_json(found.lens), "lens")
    if as_json:
        print_json({"file": str(out), **_estimate_json(found)})
    else:
        typer.echo(
            f"{out}: focal length {found.lens.matrix[0, 0]:.0f} px "
            f"± {found.focal_std:.1%}, the lens moves the photo's corners by up to "
            f"{found.corner_shift_px:.1f} px, markers fit to {found.rms_px:.2f} px "
            f"in {found.photos} photos"
        )


def check(
    photos: Annotated[
        list[Path], typer.Argument(help="Three or more photos of the sheet in your own light.")
    ],
    patches: options.PatchFiles = None,
    sheet: options.SheetFile = None,
    lens: options.LensFile = None,
    as_json: options.AsJson = False,
) -> None:
    """Check your camera yourself: how far it repeats, how far its colours hold, what to change.

    Photograph the sheet three times in the light of your stand, moving the camera a little in
    between.

    Example: greasecheck camera-check one.jpg two.jpg three.jpg --patches measured.txt
    """
    from greasecheck.cli.shared.settings import build_settings  # noqa: PLC0415 - loads OpenCV
    from greasecheck.measure.camera_check import check_camera  # noqa: PLC0415 - loads OpenCV
    from greasecheck.words.photos.camera import camera_words  # noqa: PLC0415 - loads OpenCV

    settings = build_settings(patches=patches, sheet=sheet, lens=lens)
    found = check_camera(photos, settings)
    if as_json:
        print_json(_check_json(found))
    else:
        for line in camera_words(found):
            typer.echo(line)


def _check_json(found: CameraCheck) -> dict[str, object]:
    return {
        "photos": found.photos,
        "repeat_yi": found.repeat_yi,
        "repeat_delta_e00": found.repeat_delta_e00,
        "left_out_delta_e00": found.left_out_delta_e00,
        "bone_yi_std": found.bone_yi_std,
        "luminance_scatter": found.luminance_scatter,
        "maps_tones_locally": found.maps_tones_locally if found.absolute else None,
        "exposure_ratio": found.exposure_ratio,
        "light_misfit": found.light_misfit,
        "absolute": found.absolute,
        "advice": list(found.advice),
    }


def _loaded(paths: list[Path]) -> Iterator[Photo]:
    from greasecheck.measure.photo.load import load_photo  # noqa: PLC0415 - loads OpenCV

    for path in with_progress(iter(paths), len(paths), "Looking at the photos"):
        yield load_photo(path)


def _estimate_json(found: LensEstimate) -> dict[str, object]:
    return {
        "focal_px": float(found.lens.matrix[0, 0]),
        "focal_relative_std": found.focal_std,
        "distortion": found.lens.distortion.tolist(),
        "corner_shift_px": found.corner_shift_px,
        "rms_px": found.rms_px,
        "photos": found.photos,
        "width_px": found.lens.width_px,
        "height_px": found.lens.height_px,
    }
