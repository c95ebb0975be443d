"""What a stand lit from behind would tell of the water, by path-traced photos.

Run ``python -m tests.benchmarks.rear_light``. No reading of this project is made so: photos are
refused as references for lack of a lamp's shadow. Here the contrast of the fine bars behind the jar
over that in clear water gives the attenuation by the plain law of the beam, uncorrected for
forward scatter and for light from the jar. Nothing was chosen on these photos.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from greasecheck.measure.colour.model import fit_colour
from greasecheck.measure.photo.load import load_photo
from greasecheck.measure.reading import ReadSettings
from greasecheck.measure.sight.view import SightView, look_at_sight
from tests.benchmarks.water_lamps import CAMERAS, PATH_MM, take
from tests.synthetic.camera import Camera
from tests.synthetic.path_tracer.compose import compose
from tests.synthetic.path_tracer.rear import PART, RENDERED
from tests.synthetic.path_tracer.series import CLEAR, Case, cases_of
from tests.synthetic.path_tracer.stand import Rendered

RED = 0
LEAST_KEPT = 1e-3  # of contrast, that has a logarithm
SHOWN = ("plain", "phone", "tone 30 % 14 mm", "denoise", "HDR")
BANDS_PER_M = ((0.3, 3.0), (3.0, 10.0), (10.0, 30.0), (30.0, 65.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A water and what the bars tell of it [1/m], of each width."""

    case: Case
    fine_per_m: float
    coarse_per_m: float

    @property
    def true_per_m(self) -> float:
        """True attenuation in red, above that of the reference water."""
        return self.case.medium.extinction_per_m[RED] - CLEAR.extinction_per_m[RED]

    @property
    def milky(self) -> bool:
        """Whether the water scatters nearly all that it takes."""
        return self.case.medium.albedo[RED] > 0.9


def rendered(case: Case) -> Rendered:
    """Return what the path tracer made of a stand."""
    with np.load(RENDERED) as file:
        parts = (file[f"{case.name}/{part}"] for part in ("far", "near", "scattered"))
        far, near, scattered = (part.astype(np.float32) for part in parts)
    return Rendered(far=far, near=near, scattered=scattered)


def look(case: Case, camera: Camera, folder: Path) -> SightView:
    """Photograph a stand and look at the bars behind the jar and beside it."""
    light = compose(rendered(case), case.medium)
    settings = ReadSettings()
    photo = load_photo(take(light, camera, case.number, folder, f"water{case.number}"))
    placement = settings.place_of(photo)
    colour = fit_colour(photo, placement, settings.values_of(placement.geometry))
    return look_at_sight(photo, placement, colour)


def found(case: Case, now: SightView, then: SightView) -> Found:
    """Compare the contrast of bars behind a water with that behind the clear one."""
    kept = (
        pair.ratio[RED] / reference.ratio[RED]
        for pair, reference in ((now.fine, then.fine), (now.coarse, then.coarse))
    )
    fine, coarse = (-1000 * np.log(max(one, LEAST_KEPT)) / PATH_MM for one in kept)
    return Found(case=case, fine_per_m=float(fine), coarse_per_m=float(coarse))


def results(camera: Camera) -> Iterator[Found]:
    """Read all waters by the clear one."""
    clear, *waters = cases_of(PART)
    with TemporaryDirectory() as name:
        then = look(clear, camera, Path(name))
        for case in waters:
            yield found(case, look(case, camera, Path(name)), then)


def line(some: list[Found]) -> str:
    """Errors of a group, relative."""
    true = np.array([one.true_per_m for one in some])
    fine = np.array([one.fine_per_m for one in some]) / true - 1
    coarse = np.array([one.coarse_per_m for one in some]) / true - 1
    return (
        f"{len(some):3d} waters; 2 mm bars {np.median(fine):+5.1%} in the median, "
        f"rms {np.sqrt(np.mean(fine**2)):5.1%}; 8 mm bars {np.median(coarse):+5.1%}"
    )


def main() -> None:
    """Print errors for each camera, kind of water and range of attenuation."""
    for camera in (one for one in CAMERAS if one.name in SHOWN):
        read = list(results(camera))
        print(camera.name)
        for kind, milky in (("milky", True), ("brown", False)):
            for low, high in BANDS_PER_M:
                some = [one for one in read if one.milky == milky and low < one.true_per_m <= high]
                if some:
                    print(f"  {kind} {low:4g} to {high:<4g} per m {line(some)}", flush=True)


if __name__ == "__main__":
    main()
