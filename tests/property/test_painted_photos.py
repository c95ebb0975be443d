"""Whatever covers a photo, its reading is finite or refused, without a warning of numpy."""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from greasecheck.errors import GreasecheckError
from greasecheck.measure.bone.look import BoneView, measure_bone
from greasecheck.measure.checks import verdict as quality
from greasecheck.measure.colour.model import fit_colour
from greasecheck.measure.sheet.find import find_sheet
from greasecheck.measure.water.attenuation import Jar, measure_water
from greasecheck.model import BoneState, Check, Photo
from greasecheck.reference.patches.values import nominal_values
from tests.synthetic.jar_scene import JarScene, photograph

Pixels = NDArray[np.uint8]
LEVELS = st.sampled_from([0, 1, 128, 254, 255])


@dataclass(frozen=True, slots=True, kw_only=True)
class Paint:
    """A rectangle in shares of the picture, and what becomes of its pixels."""

    left: float
    top: float
    width: float
    height: float
    colour: tuple[int, int, int]
    gain: float | None

    def on(self, pixels: Pixels) -> Pixels:
        """Return the picture with the rectangle brightened, or in one colour."""
        rows, columns = pixels.shape[:2]
        top, left = int(self.top * rows), int(self.left * columns)
        bottom, right = top + int(self.height * rows) + 1, left + int(self.width * columns) + 1
        painted = pixels.copy()
        area = painted[top:bottom, left:right]
        area[:] = self.colour if self.gain is None else np.clip(area * self.gain, 0, 255)
        return painted


PAINTS = st.builds(
    Paint,
    left=st.floats(0, 0.9),
    top=st.floats(0, 0.9),
    width=st.floats(0.03, 0.6),
    height=st.floats(0.05, 0.9),
    colour=st.tuples(LEVELS, LEVELS, LEVELS),
    gain=st.sampled_from([None, 0.0, 0.05, 3.0, 20.0]),
)


@cache
def sound() -> Photo:
    return photograph(
        JarScene(transmittance=(0.7,) * 3, veil=0.18, bone_lab_rgb=(0.62, 0.55, 0.42), seed=5)
    )


def numbers_of(photo: Photo) -> list[float]:
    """What the photo gives: figures of water and bone, and of all checks."""
    placement = find_sheet(photo)
    colour = fit_colour(photo, placement, nominal_values(placement.geometry))
    bone = measure_bone(photo, placement, colour, state=BoneState.DRY)
    view = measure_water(photo, placement, colour, Jar())
    rows: list[Check] = [
        *quality.sheet_checks(placement),
        *quality.colour_checks(colour, placement.geometry),
    ]
    rows += quality.water_checks(view, photo.camera, has_reference=False)
    water = view.reading
    found = [water.main_per_m, water.std_per_m, water.tint_yi]
    if isinstance(bone, BoneView):
        rows += quality.bone_checks(bone)
        found += [bone.reading.yi_e313, bone.reading.yi_std, bone.reading.yellow_patch_share]
    return found + [np.nan if row.value is None else row.value for row in rows]


def test_the_sound_photo_gives_numbers() -> None:
    assert len(numbers_of(sound())) > 15


@settings(deadline=None, max_examples=25)
@given(paints=st.lists(PAINTS, min_size=1, max_size=3))
def test_a_painted_photo_gives_finite_numbers_or_is_refused(paints: list[Paint]) -> None:
    pixels = np.asarray(sound().pixels, dtype=np.uint8)
    for paint in paints:
        pixels = paint.on(pixels)
    try:
        numbers = numbers_of(replace(sound(), pixels=pixels))
    except GreasecheckError:
        return
    assert np.isfinite(numbers).all()
