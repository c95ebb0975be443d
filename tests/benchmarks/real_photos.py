"""Colour of real cameras: `python -m tests.benchmarks.real_photos [FOLDER]`.

Photographs of a chart with published values are read by the chart's geometry file and values
alone. Each patch is left out in turn, four at a time, and predicted by a fit to the others. FOLDER,
or the environment variable GREASECHECK_REAL_PHOTOS, holds `*.jpg`, `chart_geometry.toml` and
`reference_values.csv`. Photographs of odd number served to choose what the colour path does, those
of even number did not.
"""

from __future__ import annotations

import argparse
import os
import sys
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.colorimetry import delta_e00, lab_from_xyz, yellowness_e313
from greasecheck.measure.colour.model import fit_colour
from greasecheck.measure.colour.patches import read_sheet_colours
from greasecheck.measure.photo.load import load_photo
from greasecheck.measure.sheet.find import find_sheet
from greasecheck.reference import read_geometry
from greasecheck.reference.patches.values import read_patch_values

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.measure.colour.patches import SheetColours
    from greasecheck.model import FloatArray, PatchValues, SheetGeometry

VARIABLE = "GREASECHECK_REAL_PHOTOS"
FOLDS = 6
GREY_CHROMA = 6.0
DARKEST_GREY_Y = 5.0  # no bone is as dark: yellowness of black is noise over nothing
SKIN_LAB = ((50.0, 80.0), (8.0, 25.0), (10.0, 25.0))  # light skin, the nearest to bone


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOutPatch:
    """A patch of a photograph, predicted by a fit to the other patches.

    Attributes
    ----------
    photo, patch : str
        Their names.
    chosen_on : bool
        Whether the photograph served to choose what the colour path does.
    delta_e00 : float
        CIEDE2000 from the published colour.
    yi_error : float
        Yellowness index found less the published one.
    yi_std : float
        Standard error that the fit states for it.
    stated_delta_e00 : float
        Mean left-out error that the fit states.
    grey, skin : bool
        Whether it is a grey that is not black, or light skin.
    """

    photo: str
    patch: str
    chosen_on: bool
    delta_e00: float
    yi_error: float
    yi_std: float
    stated_delta_e00: float
    grey: bool
    skin: bool


def photo_folder() -> Path | None:
    """Return the folder that the environment names; None without one."""
    named = os.environ.get(VARIABLE)
    return Path(named) if named else None


def left_out_patches(folder: Path) -> Iterator[LeftOutPatch]:
    """Read all photographs of a folder, each patch left out once."""
    geometry = read_geometry(folder / "chart_geometry.toml")
    values = read_patch_values(folder / "reference_values.csv", geometry)
    for number, path in enumerate(sorted(folder.glob("*.jpg")), start=1):
        yield from _of_photo(path, geometry, values, chosen_on=number % 2 == 1)


def _of_photo(
    path: Path, geometry: SheetGeometry, values: PatchValues, *, chosen_on: bool
) -> Iterator[LeftOutPatch]:
    photo = load_photo(path)
    placement = find_sheet(photo, None, (geometry,), values)
    seen = read_sheet_colours(photo, placement, values)
    for fold in range(FOLDS):
        out = values.names[fold::FOLDS]
        model = fit_colour(photo, placement, _without(values, out))
        for name in out:
            yield _left_out(path.stem, seen, model, name, chosen_on=chosen_on)


def _without(values: PatchValues, out: Sequence[str]) -> PatchValues:
    kept = [place for place, name in enumerate(values.names) if name not in out]
    names = tuple(values.names[place] for place in kept)
    return replace(values, names=names, xyz=values.xyz[kept], rgb=None)


def _left_out(
    photo: str, seen: SheetColours, model: ColourModel, name: str, *, chosen_on: bool
) -> LeftOutPatch:
    place = seen.names.index(name)
    even = model.scene_linear(seen.linear[[place]]) / model.illuminance(seen.points_mm[[place]])
    found, true = model.to_xyz(even)[0], seen.xyz[place]
    lab = lab_from_xyz(true)
    grey = bool(np.hypot(lab[1], lab[2]) < GREY_CHROMA) and true[1] > DARKEST_GREY_Y
    return LeftOutPatch(
        photo=photo,
        patch=name,
        chosen_on=chosen_on,
        delta_e00=float(delta_e00(found[np.newaxis], true[np.newaxis])[0]),
        yi_error=float(yellowness_e313(found) - yellowness_e313(true)),
        yi_std=model.yi_std(found),
        stated_delta_e00=model.fit.loo_delta_e00,
        grey=bool(grey),
        skin=all(low < value < high for value, (low, high) in zip(lab, SKIN_LAB, strict=True)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What left-out patches say together; yellowness errors are root mean squares."""

    patches: int
    delta_e00_median: float
    delta_e00_95: float
    stated_delta_e00: float
    mean_delta_e00: float
    greys_yi: float
    skin_yi: float
    within_two_std: float


def figures_of(patches: Sequence[LeftOutPatch]) -> Figures:
    """Return the figures; the stated error is judged on what a bone may look like."""
    errors = np.array([one.delta_e00 for one in patches])
    pale = [one for one in patches if one.grey or one.skin]
    return Figures(
        patches=len(patches),
        delta_e00_median=float(np.median(errors)),
        delta_e00_95=float(np.percentile(errors, 95)),
        stated_delta_e00=float(np.mean([one.stated_delta_e00 for one in patches])),
        mean_delta_e00=float(errors.mean()),
        greys_yi=_rms([one.yi_error for one in patches if one.grey]),
        skin_yi=_rms([one.yi_error for one in patches if one.skin]),
        within_two_std=float(np.mean([abs(one.yi_error) <= 2 * one.yi_std for one in pale])),
    )


def _rms(errors: Sequence[float] | FloatArray) -> float:
    return float(np.sqrt(np.mean(np.square(errors))))


def line(name: str, found: Figures) -> str:
    """One line of the table."""
    return (
        f"{name:<24}{found.patches:>8}{found.delta_e00_median:>8.2f}{found.delta_e00_95:>8.2f}"
        f"{found.mean_delta_e00:>8.2f}{found.stated_delta_e00:>8.2f}{found.greys_yi:>8.2f}"
        f"{found.skin_yi:>8.2f}{found.within_two_std:>8.0%}"
    )


def table(patches: Sequence[LeftOutPatch]) -> str:
    """Return the table: all photographs, those to choose and to report, and one by one."""
    groups = {
        "chosen on (odd)": [one for one in patches if one.chosen_on],
        "not chosen on (even)": [one for one in patches if not one.chosen_on],
        "all": list(patches),
    }
    for photo in dict.fromkeys(one.photo for one in patches):
        groups[photo] = [one for one in patches if one.photo == photo]
    head = f"{'photographs':<24}{'patches':>8}" + "".join(
        f"{word:>8}" for word in ("median", "95 %", "mean", "stated", "greys", "skin", "2 std")
    )
    title = "left-out patches: CIEDE2000; error of the yellowness index, root mean square"
    return "\n".join([title, head, *(line(name, figures_of(of)) for name, of in groups.items())])


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path, default=photo_folder())
    folder = parser.parse_args().folder
    if folder is None:
        print(f"set {VARIABLE} to a folder of photographs, or name it", file=sys.stderr)
        return 2
    print(table(list(left_out_patches(folder))))
    return 0


if __name__ == "__main__":
    sys.exit(main())
