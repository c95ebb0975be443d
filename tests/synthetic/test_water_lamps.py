"""Water in lamps that no constant was chosen on: some photos of `benchmarks.water_lamps`."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from greasecheck.errors import WaterError
from greasecheck.measure.reading import ReadSettings, view_photo
from greasecheck.measure.water.attenuation import Jar
from greasecheck.model import Reading, Verdict
from greasecheck.model.check_places import Place, place_of
from greasecheck.reference import known_sheets
from greasecheck.words.photos.readings import causes
from tests.benchmarks import jar_shadow, jar_veils, rear_light
from tests.benchmarks.water_lamps import (
    CAMERAS,
    GLASS,
    PATH_MM,
    PLAIN,
    Result,
    light_of,
    reference,
    spoil,
    take,
)
from tests.synthetic.path_tracer import rear
from tests.synthetic.path_tracer.compose import FRAME, PX_PER_MM
from tests.synthetic.path_tracer.series import Case, cases, cases_of

LIGHT = "panel at 30"


def case_of(light: str, number: int) -> Case:
    return next(case for case in cases() if (case.light, case.number) == (light, number))


@pytest.fixture(name="settings", scope="module")
def fixture_settings(tmp_path_factory: pytest.TempPathFactory) -> ReadSettings:
    folder = tmp_path_factory.mktemp("clear")
    made = reference(light_of(case_of(LIGHT, 0)), PLAIN, folder)
    return ReadSettings(jar=Jar(clear=made, path_mm=PATH_MM))


def read(case: Case, settings: ReadSettings, folder: Path, **how: object) -> Reading:
    picture = light_of(case)
    spoiling = how.get("spoiling")
    if spoiling is not None:
        picture = spoil(picture, next(one for one in GLASS if one.name == spoiling))
    camera = next(one for one in CAMERAS if one.name == how.get("camera", "plain"))
    return view_photo(take(picture, camera, 5, folder, "water"), settings).reading


@pytest.mark.parametrize("number", [3, 4, 5])
def test_milky_and_brown_water_is_good_and_right(
    number: int, settings: ReadSettings, tmp_path: Path
) -> None:
    case = case_of(LIGHT, number)
    reading = read(case, settings, tmp_path)
    result = Result(variant="plain", case=case, reading=reading)
    assert reading.verdict is Verdict.GOOD, [row for row in reading.checks if not row.passed]
    assert abs(result.error_std) < 2
    assert abs(result.error_per_m) < 0.15 * result.true_per_m


@pytest.mark.parametrize("spoiling", ["smear", "mist"])
def test_spoilt_glass_is_never_good(spoiling: str, settings: ReadSettings, tmp_path: Path) -> None:
    reading = read(case_of(LIGHT, 3), settings, tmp_path, spoiling=spoiling)
    failed = [row.name for row in reading.checks if not row.passed]
    assert reading.verdict is not Verdict.GOOD
    assert "glass_change" in failed


@pytest.mark.parametrize(("number", "level_mm"), [(2, 137.0), (4, 140.0), (4, 153.0), (2, 160.0)])
def test_a_jar_filled_far_too_low_is_told_to_be_filled(
    number: int, level_mm: float, settings: ReadSettings, tmp_path: Path
) -> None:
    """Bars above the water's level are seen as dry ones."""
    picture = light_of(case_of(LIGHT, number)).copy()
    columns, rows = (
        slice(*(round((end - FRAME[start]) * PX_PER_MM) for end in ends))
        for start, ends in ((0, (64.0, 116.0)), (2, (92.0, level_mm)))
    )
    apart = round((known_sheets()[-1].sight.dry_fine.x_mm - 66.0) * PX_PER_MM)
    picture[rows, columns] = picture[rows, columns.start + apart : columns.stop + apart]
    reading = view_photo(take(picture, PLAIN, 5, tmp_path, "low"), settings).reading
    assert reading.verdict is not Verdict.GOOD
    assert "stands so low that bars are seen above it: fill it to the line" in causes(reading)[0]


@pytest.mark.parametrize(
    ("kind", "number", "name"),
    [
        (jar_veils.mist_half, 4, "fine_edges_behind_jar"),
        (jar_veils.drop_30mm, 4, "fine_edges_behind_jar"),
        (jar_veils.drop_16mm, 4, "bar_contrast_hole"),
        (jar_veils.veil_half, 3, "edge_of_veil"),
        (jar_veils.sharpened, 4, "fine_edges_over_dry"),
        (jar_veils.dew, 3, "bar_contrast_grain"),
    ],
)
def test_what_lies_before_a_part_of_the_bars_is_never_good(
    kind: jar_shadow.Spoil, number: int, name: str, settings: ReadSettings, tmp_path: Path
) -> None:
    picture = kind(light_of(case_of(LIGHT, number)), np.random.default_rng(2))
    reading = view_photo(take(picture, PLAIN, 5, tmp_path, "water"), settings).reading
    assert name in [row.name for row in reading.checks if not row.passed]


def test_smear_before_the_bare_bars_is_not_blamed_on_the_jar(
    settings: ReadSettings, tmp_path: Path
) -> None:
    picture = jar_veils.smear_beside(light_of(case_of(LIGHT, 3)), np.random.default_rng(2))
    reading = view_photo(take(picture, PLAIN, 5, tmp_path, "water"), settings).reading
    failed = [row for row in reading.checks if not row.passed]
    assert failed
    assert not {place_of(row) for row in failed} & {Place.WET_BARS, Place.GLASS, Place.JAR}


def test_a_camera_that_smears_colours_is_named(settings: ReadSettings, tmp_path: Path) -> None:
    camera = replace(PLAIN, smear_px=5.0)  # half a fine bar
    path = take(light_of(case_of(LIGHT, 3)), camera, 5, tmp_path, "water")
    failed = [row.name for row in view_photo(path, settings).reading.checks if not row.passed]
    assert failed == ["colour_lost_at_edges"]


@pytest.mark.parametrize("saturation", [0.75, 1.25])
def test_a_camera_that_renders_more_or_less_vivid_colours_is_named(
    saturation: float, settings: ReadSettings, tmp_path: Path
) -> None:
    path = take(
        light_of(case_of(LIGHT, 3)), replace(PLAIN, saturation=saturation), 5, tmp_path, "water"
    )
    failed = [row.name for row in view_photo(path, settings).reading.checks if not row.passed]
    assert failed == ["saturation_change"]


@pytest.mark.parametrize("kind", [jar_shadow.hand, jar_shadow.body, jar_shadow.bright])
def test_light_that_changed_on_the_jar_is_never_good_and_wrong(
    kind: jar_shadow.Spoil, settings: ReadSettings, tmp_path: Path
) -> None:
    case = case_of(LIGHT, 2)
    picture = kind(light_of(case), np.random.default_rng(2))
    reading = view_photo(take(picture, PLAIN, 5, tmp_path, "water"), settings).reading
    wrong = abs(Result(variant=kind.__name__, case=case, reading=reading).error_std) > 2.5
    assert not (wrong and reading.verdict is Verdict.GOOD)


def test_a_hand_s_shadow_over_the_jar_is_doubted_and_its_error_stated(
    settings: ReadSettings, tmp_path: Path
) -> None:
    case = case_of(LIGHT, 2)
    light = light_of(case)
    mask = jar_shadow.ellipse(light, (86.0, 128.0), (46.0, 76.0), 20.0, 6.4)
    spoilt = jar_shadow.shaded(light, mask, 0.15)
    reading = view_photo(take(spoilt, PLAIN, 5, tmp_path, "water"), settings).reading
    failed = [row.name for row in reading.checks if not row.passed]
    assert "jar_light_change" in failed
    assert abs(Result(variant="hand", case=case, reading=reading).error_std) < 2


@pytest.mark.parametrize("camera", ["tone 30 % 14 mm", "tone 30 % edges", "tone 55 % 60 mm", "HDR"])
def test_a_camera_that_maps_tones_locally_is_never_good(
    camera: str, settings: ReadSettings, tmp_path: Path
) -> None:
    assert read(case_of(LIGHT, 4), settings, tmp_path, camera=camera).verdict is not Verdict.GOOD


def test_a_camera_that_lifts_dark_areas_is_named_where_it_cannot_serve(tmp_path: Path) -> None:
    hdr = next(camera for camera in CAMERAS if camera.name == "HDR")
    with pytest.raises(WaterError) as refused:
        reference(light_of(case_of("panel left", 0)), hdr, tmp_path)
    assert "HDR" in refused.value.hint


@pytest.mark.parametrize(
    ("light", "advice"), [("overhead", "lower the lamp"), ("behind", "one lamp before it")]
)
def test_a_lamp_out_of_range_is_refused_with_what_to_move(
    light: str, advice: str, tmp_path: Path
) -> None:
    with pytest.raises(WaterError) as refused:
        reference(light_of(case_of(light, 0)), PLAIN, tmp_path)
    assert advice in refused.value.hint


def test_light_from_behind_obeys_the_plain_law_of_the_beam(tmp_path: Path) -> None:
    clear, *waters = cases_of(rear.PART)
    case = next(one for one in waters if one.medium.albedo[0] < 0.9)  # little of it is scattered
    then, now = (rear_light.look(one, PLAIN, tmp_path) for one in (clear, case))
    read = rear_light.found(case, now, then)
    assert read.fine_per_m == pytest.approx(read.true_per_m, rel=0.05)
