"""What the sight decides by numbers, from both sides of each."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.errors import WaterError
from greasecheck.measure.sight import contrast_ladder, glass, shade, view
from greasecheck.measure.sight.contrast_ladder import LadderView
from greasecheck.measure.sight.glass import look_through_glass
from greasecheck.measure.sight.phase import measure_stretch
from greasecheck.measure.sight.shade import WaterShade, look_at_shade, shade_of
from greasecheck.measure.sight.stand_light import UNKNOWN_LIGHT, StandLight, light_of
from greasecheck.reference import known_sheets
from tests.synthetic.bar_pairs import CLEAR, HERE, field
from tests.unit.measure.sight.test_phase import drawn

if TYPE_CHECKING:
    from greasecheck.measure.sight.cells import FieldContrast
    from greasecheck.model import Box, FloatArray, Photo

SHEET = known_sheets()[-1]
LOW = WaterShade(dark=0.3, bright=1.2, reach_mm=30.0)


@pytest.mark.parametrize(("times", "clear"), [(7.9, False), (8.1, True)])
def test_bars_that_stand_out_by_eight_errors_are_located_by_themselves(
    times: float, clear: bool
) -> None:
    wet = replace(CLEAR.wet, contrast=np.array([0.1, 0.1, 0.01 * times]), std=np.full(3, 0.1))
    wet.std[2] = 0.01
    assert replace(CLEAR, wet=wet).clearly_seen is clear


@pytest.mark.parametrize(("contrast", "is_seen"), [(0.0009, False), (0.0011, True)])
def test_dry_bars_have_a_thousandth_of_contrast(contrast: float, is_seen: bool) -> None:
    dry = replace(CLEAR.dry, contrast=np.array([0.5, contrast, 0.5]))
    if is_seen:
        view._refuse_unseen(dry)
        return
    with pytest.raises(WaterError, match="beside the jar"):
        view._refuse_unseen(dry)


def test_a_pair_s_ratio_veil_and_errors() -> None:
    dry = replace(field(np.full(3, 0.9), np.full(3, 0.1)), std=np.full(3, 0.02))
    wet = replace(field(np.full(3, 0.7), np.full(3, 0.3)), std=np.full(3, 0.01))
    pair = replace(CLEAR, wet=wet, dry=dry)
    assert pair.ratio == pytest.approx(np.full(3, 0.5))
    assert pair.profile == pytest.approx(np.full((7, 3), 0.5))
    assert pair.ratio_std == pytest.approx(np.full(3, np.hypot(0.01, 0.5 * 0.02) / 0.8))
    # black 0.3 of which 0.1 / 0.8 of the contrast is the print's own
    assert pair.veil == pytest.approx(np.full(3, (0.3 - 0.4 / 8) / 0.9))
    assert pair.levels.white_kept == pytest.approx((0.7 / 0.9,) * 3)


@pytest.mark.parametrize(("rise", "is_shadow"), [(1.11, False), (1.13, True)])
def test_a_shadow_s_edge_is_a_rise_of_12_percent(rise: float, is_shadow: bool) -> None:
    depth = np.arange(1.0, 80.0, 2.0)
    found = shade_of(np.where(depth < 38, 0.5, 0.5 * rise), depth)
    assert (found.reach_mm is not None) is is_shadow


def test_the_edge_lies_half_way_to_the_first_level_that_the_light_reaches() -> None:
    depth = np.arange(1.0, 41.0, 2.0)
    #                    dark, a rise that slackens to a quarter of its steepest, more light below
    light = np.array([0.5, 0.4, 0.4, 0.4, 0.6, 0.9, 1.0, 1.02, 1.04, *[1.3] * 11])
    found = shade_of(light, depth)
    smooth = np.convolve(np.pad(light, 1, mode="edge"), np.ones(3) / 3, mode="valid")
    steps = np.diff(smooth)
    steepest = int(np.argmax(steps[:7]))
    end = next(n for n in range(steepest, 20) if steps[n] < steps[steepest] / 4)
    middle = (smooth.min() + smooth[end + 1]) / 2
    crossed = next(n for n in range(int(np.argmin(smooth)), 20) if smooth[n] >= middle)
    assert found.reach_mm == pytest.approx((depth[crossed - 1] + depth[crossed]) / 2)
    assert (found.dark, found.bright) == pytest.approx((smooth.min(), smooth.max()))


def test_the_paper_beside_the_bars_is_sampled_every_2_mm_from_4_mm_below_the_line(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    boxes: list[tuple[Box, int]] = []
    profile = np.arange(1.0, 101.0)

    def rows(_photo: Photo, _placed: object, _colour: object, box: Box, count: int) -> FloatArray:
        boxes.append((box, count))
        return profile[:count] * (1.0 if len(boxes) == 1 else 3.0)

    given: list[tuple[FloatArray, FloatArray]] = []

    def judged(light: FloatArray, depth_mm: FloatArray) -> WaterShade:
        given.append((light, depth_mm))
        return LOW

    class Placed:
        geometry = SHEET

    monkeypatch.setattr(shade, "_rows", rows)
    monkeypatch.setattr(shade, "shade_of", judged)
    nothing: object = None
    look_at_shade(nothing, Placed(), nothing, np.array([1.0, 2.0, 3.0]))  # type: ignore[arg-type]
    bars = SHEET.sight.wet_fine
    (left, count), (right, _) = boxes
    assert left.x_mm == pytest.approx(bars.x_mm - 11.5)
    assert right.x_mm == pytest.approx(bars.x_mm + bars.width_mm + 3.5)
    assert (left.width_mm, left.y_mm) == pytest.approx((8.0, SHEET.fill_line_y_mm + 4))
    assert count == int((SHEET.height_mm - 6 - SHEET.fill_line_y_mm - 4) / 2)
    assert left.height_mm == pytest.approx(2.0 * count)
    ((light, depth_mm),) = given
    assert light == pytest.approx(profile[:count])  # mean of 1 and 3 times it, over a level of 2
    assert depth_mm == pytest.approx(4 + 2 * (np.arange(count) + 0.5))


def test_the_light_of_a_stand_is_as_printed_by_its_benchmark() -> None:
    """Lines over the light on the coarse bars, and the scatter about them (`water_constants`)."""
    known = StandLight(
        shade=1.249 - 0.761 * 0.5,
        shade_std=0.197,
        coarse=1.003 - 2.491 * 0.5,
        coarse_std=0.193,
        absorbed=1.245 + 0.209 * 0.5,
        log_veil=-0.088 - 0.362 * 0.5,
        log_veil_std=0.111,
    )
    assert asdict(light_of(-0.5)) == pytest.approx(asdict(known))
    unknown = replace(light_of(-0.1), shade_std=0.3, coarse_std=0.4, log_veil_std=0.3)
    assert unknown == UNKNOWN_LIGHT


def test_faint_fields_of_the_ladder_are_those_up_to_28_percent() -> None:
    ladder = LadderView(
        printed=np.array([0.1, 0.27, 0.29, 0.9]),
        coarse=np.array([0.3, 0.1, 0.04, 0.0]),
        fine=np.array([0.2, 0.0, 0.02, 0.0]),
        coarse_std=np.array([0.1, 0.05, 0.05, 0.05]),
        fine_std=np.array([0.1, 0.1, 0.1, 0.1]),
        greys=np.array([0.5, 0.2, 0.7]),
        levels=np.array([0.1, 0.07, 0.2]),
    )
    # weights 1 and 4 of 0.3 and 0.1; alike for 0.04 and 0
    assert ladder.faint_gain == pytest.approx(0.14 - 0.02)
    assert ladder.fine_loss == pytest.approx(0.12 - (0.1 - 0.01))
    assert ladder.dark_lift == 0.07


def test_gains_are_known_no_better_than_the_print() -> None:
    printed = np.array([0.2, 0.9])
    fields = [
        replace(field(np.full(3, 0.63), np.full(3, 0.37)), std=np.full(3, 0.013)),
        replace(field(np.full(3, 0.95), np.full(3, 0.05)), std=np.full(3, 0.009)),
    ]
    gains, stds = contrast_ladder._gains(fields, printed)
    assert gains == pytest.approx([np.log(0.26 / 0.2), 0.0])
    assert stds == pytest.approx([np.hypot(0.05, 0.02), np.hypot(0.01, 0.02)])
    lost = [field(np.full(3, 0.5), np.full(3, 0.5)), fields[1]]
    assert contrast_ladder._gains(lost, printed)[0][0] == pytest.approx(np.log(0.001 / 0.2))


def test_the_glass_is_compared_with_the_dry_bars(monkeypatch: pytest.MonkeyPatch) -> None:
    seen = replace(field(np.full(3, 0.8), np.full(3, 0.2)), std=np.array([0.006, 0.012, 0.03]))
    dry = field(np.full(3, 0.9), np.full(3, 0.1))

    def measured(_strips: object, _at: object) -> FieldContrast:
        return seen

    class Placed:
        geometry = SHEET

    monkeypatch.setattr(glass, "take_strips", lambda *_: None)
    monkeypatch.setattr(glass, "align", lambda *_: HERE)
    monkeypatch.setattr(glass, "measure_contrast", measured)
    nothing: object = None
    found = look_through_glass(nothing, Placed(), nothing, dry)  # type: ignore[arg-type]
    assert found is not None
    assert found.modulation == pytest.approx(0.6 / 0.8)
    assert found.std == pytest.approx((0.01 + 0.02 + 0.05) / 3 * 0.75)


def test_the_stretch_s_stated_error_is_its_scatter() -> None:
    near = replace(HERE, shift_mm=-0.7, stretch=1.025)
    found = [measure_stretch(drawn(1.024, 0.3, 0.1, 0.02, seed), near) for seed in range(150)]
    scatter = np.std([one.value for one in found])
    stated = np.sqrt(np.mean([one.std**2 for one in found]))
    assert scatter == pytest.approx(stated, rel=0.2)
