"""Whole readings of drawn photographs of known water and bone."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import cv2
import numpy as np
import pytest

from greasecheck.errors import BoneError, WaterError
from greasecheck.measure import read_photo
from greasecheck.measure import reading as reading_module
from greasecheck.measure.colorimetry import yellowness_e313
from greasecheck.measure.reading import DatedJar, PhotoView, ReadSettings, view_photo
from greasecheck.measure.stand import view_clear_water
from greasecheck.measure.water.attenuation import Jar
from greasecheck.model import Absent, BoneState, Bound, Lens, TimeSource, Verdict
from greasecheck.reference import known_sheets
from greasecheck.words.photos.checks import UNKNOWN, check_words
from greasecheck.words.photos.readings import remarks
from tests.synthetic.jar_scene import JarScene
from tests.unit.measure.jar_photos import murky, painted, reference, save

BONE = (0.62, 0.55, 0.42)
SIGHT = known_sheets()[0].sight
SRGB_TO_XYZ = np.array(  # IEC 61966-2-1
    [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("photos")


def read(folder: Path, scene: JarScene, **changes: object) -> PhotoView:
    settings = ReadSettings(jar=Jar(clear=reference(folder)))
    return view_photo(save(folder, scene), replace(settings, **changes))  # type: ignore[arg-type]


@pytest.mark.parametrize("attenuation_per_m", [1.0, 10.0, 40.0])
def test_water_is_read_within_its_stated_error(folder: Path, attenuation_per_m: float) -> None:
    reading = read(folder, murky(attenuation_per_m, seed=3)).reading
    assert reading.verdict is Verdict.GOOD
    assert reading.water is not None
    assert reading.water.bound is None
    error = abs(reading.water.main_per_m - attenuation_per_m)
    assert error < 2 * reading.water.std_per_m < 0.5 * attenuation_per_m
    assert reading.tub == 12
    assert reading.taken_at == datetime(2026, 3, 1, 11, tzinfo=UTC)
    assert reading.time_source is TimeSource.EXIF
    assert reading.bone is None


def test_the_depth_of_the_jar_is_that_of_its_reference(folder: Path) -> None:
    other = Jar(clear=reference(folder), path_mm=120.0)
    water = read(folder, murky(10.0, seed=3), jar=other).reading.water
    assert water is not None
    assert water.path_mm == pytest.approx(60.0, rel=0.01)
    assert water.main_per_m == pytest.approx(10.0, rel=0.1)


def test_clear_water_is_below_a_bound(folder: Path) -> None:
    water = read(folder, JarScene(seed=7)).reading.water
    assert water is not None
    assert water.bound is Bound.BELOW
    assert 0 < water.main_per_m < 0.5
    assert water.turbidity is None


def test_lost_bars_are_above_a_bound(folder: Path) -> None:
    water = read(folder, JarScene(transmittance=(1e-5,) * 3, veil=0.5, seed=8)).reading.water
    assert water is not None
    assert water.bound is Bound.ABOVE
    assert 40 < water.main_per_m < 130
    assert water.attenuation_rgb_per_m == (None, None, None)


def test_dilution_is_multiplied_back(folder: Path) -> None:
    jar = Jar(clear=reference(folder), dilution=4.0)
    plain = read(folder, murky(10.0, seed=3)).reading.water
    diluted = read(folder, murky(10.0, seed=3), jar=jar).reading.water
    assert plain is not None
    assert diluted is not None
    assert diluted.main_per_m == pytest.approx(4 * plain.main_per_m)
    assert diluted.std_per_m == pytest.approx(4 * plain.std_per_m)


def test_brown_water_is_told_from_milky(folder: Path) -> None:
    brown = read(folder, JarScene(transmittance=(0.8, 0.6, 0.3), seed=9)).reading.water
    milky = read(folder, JarScene(transmittance=(0.6,) * 3, veil=0.2, seed=9)).reading.water
    assert brown is not None
    assert milky is not None
    assert brown.tint_yi > milky.tint_yi + 30
    assert abs(milky.tint_yi) < 5
    red, _, blue = brown.attenuation_rgb_per_m
    assert red is not None
    assert blue is not None
    assert blue > 2 * red


def test_bone_is_read_beside_the_jar(folder: Path) -> None:
    reading = read(folder, murky(5.0, bone_lab_rgb=BONE, seed=10), bone_state=BoneState.DRY).reading
    truth = float(yellowness_e313(100 * SRGB_TO_XYZ @ np.array(BONE)))
    assert reading.bone is not None
    assert reading.bone.yi_e313 == pytest.approx(truth, abs=3 * max(reading.bone.yi_std, 0.7))
    assert reading.bone.state is BoneState.DRY


@pytest.mark.parametrize(("blue_kept", "is_doubted"), [(1.0, False), (0.782, True), (0.6, False)])
def test_a_bone_as_yellow_as_the_limit_of_patches_is_doubted(
    folder: Path, blue_kept: float, is_doubted: bool
) -> None:
    red, green, blue = BONE  # clean, as yellow as the limit, yellow all over
    scene = murky(5.0, bone_lab_rgb=(red, green, blue_kept * blue), seed=10)
    view = read(folder, scene)
    assert ("yellow_share_std" in failed(view)) is is_doubted


def test_exposure_changes_no_reading(folder: Path) -> None:
    bright = read(folder, murky(10.0, bone_lab_rgb=BONE, exposure=0.9, seed=11)).reading
    dim = read(folder, murky(10.0, bone_lab_rgb=BONE, exposure=0.6, seed=12)).reading
    assert bright.water is not None
    assert dim.water is not None
    assert dim.water.main_per_m == pytest.approx(bright.water.main_per_m, rel=0.02)
    assert bright.bone is not None
    assert dim.bone is not None
    assert dim.bone.yi_e313 == pytest.approx(bright.bone.yi_e313, abs=1.0)


def test_clearer_water_never_raises_attenuation(folder: Path) -> None:
    values = []
    for kept in (0.05, 0.2, 0.5, 0.8):
        water = read(folder, JarScene(transmittance=(kept,) * 3, veil=0.1, seed=13)).reading.water
        assert water is not None
        values.append(water.main_per_m)
    assert values == sorted(values, reverse=True)


def failed(view: PhotoView) -> set[str]:
    return {check.name for check in view.reading.checks if not check.passed}


@pytest.mark.parametrize(
    ("scene", "name", "verdict"),
    [
        (murky(5.0, foam_mm=34.0, seed=14), "fine_coarse_disagreement_std", Verdict.REFUSED),
        (murky(5.0, foam_mm=20.0, seed=14), "sight_used_share", Verdict.DOUBTFUL),
        (JarScene(filled=False, seed=15), "jar_filled", Verdict.REFUSED),
        (JarScene(jar=None, seed=16), "jar_or_bone_seen", Verdict.REFUSED),
        (murky(5.0, tub=None, seed=17), "tub_tag_seen", Verdict.DOUBTFUL),
        (murky(5.0, exposure=0.03, seed=18), "paper_level", Verdict.REFUSED),
        (murky(5.0, blur_px=3.0, seed=19), "fine_bar_modulation", Verdict.DOUBTFUL),
        (murky(5.0, stretch=1.08, seed=20), "bar_displacement_mm", Verdict.REFUSED),
    ],
)
def test_doubts_are_named(folder: Path, scene: JarScene, name: str, verdict: Verdict) -> None:
    view = read(folder, scene)
    assert name in failed(view)
    assert view.reading.verdict is verdict
    assert all(check_words(check) != UNKNOWN for check in view.reading.checks if not check.passed)


@pytest.mark.parametrize("level", [0, 128])
def test_flat_dry_bars_refuse_the_photo_and_no_number_comes_of_it(folder: Path, level: int) -> None:
    path = painted(folder, murky(5.0, seed=3), SIGHT.dry_fine, SIGHT.dry_coarse, level=level)
    for jar in (Jar(), Jar(clear=reference(folder))):
        view = view_photo(path, ReadSettings(jar=jar))
        assert "water" in failed(view)
        assert "jar_or_bone_seen" not in failed(view)
        assert view.reading.water is None
        assert view.reading.verdict is Verdict.REFUSED
    with pytest.raises(WaterError):
        view_clear_water(path, ReadSettings(), tap_water=True)


@pytest.mark.parametrize("level", [0, 128, 255])
def test_flat_wet_bars_give_finite_numbers_and_no_good_reading(folder: Path, level: int) -> None:
    path = painted(folder, murky(5.0, seed=3), SIGHT.wet_fine, SIGHT.wet_coarse, level=level)
    for jar in (Jar(), Jar(clear=reference(folder))):
        view = view_photo(path, ReadSettings(jar=jar))
        water = view.reading.water
        assert water is not None
        assert np.isfinite([water.main_per_m, water.std_per_m, water.tint_yi]).all()
        assert view.reading.verdict is not Verdict.GOOD


def test_bone_alone_is_a_reading(folder: Path) -> None:
    view = read(folder, JarScene(jar=None, bone_lab_rgb=BONE, seed=21))
    assert view.reading.verdict is Verdict.GOOD
    assert view.reading.water is None
    assert view.reading.bone is not None


def test_tub_may_be_named_by_hand(folder: Path) -> None:
    view = read(folder, murky(5.0, tub=None, seed=17), tub=31)
    assert (view.reading.tub, view.reading.verdict) == (31, Verdict.GOOD)


def test_no_reference_is_doubtful_and_less_sure(folder: Path) -> None:
    with_one = read(folder, murky(10.0, seed=3))
    without = read(folder, murky(10.0, seed=3), jar=Jar())
    assert failed(without) == {"clear_water_reference"}
    assert without.reading.water is not None
    assert with_one.reading.water is not None
    assert without.reading.water.std_per_m > 2 * with_one.reading.water.std_per_m
    assert abs(without.reading.water.main_per_m - 10.0) < 2 * without.reading.water.std_per_m


def test_reference_of_another_camera_is_doubtful(folder: Path) -> None:
    other = replace(reference(folder), camera="another")
    view = read(folder, murky(10.0, seed=3), jar=Jar(clear=other))
    assert failed(view) == {"reference_camera"}


def test_a_picture_without_the_sheet_is_refused(folder: Path) -> None:
    path = folder / "wall.png"
    rng = np.random.default_rng(5)
    cv2.imwrite(str(path), rng.integers(0, 255, (600, 800, 3), dtype=np.uint8))
    reading = read_photo(path)
    assert reading.verdict is Verdict.REFUSED
    assert [check.name for check in reading.checks] == ["sheet"]
    assert len(reading.photo_sha256) == 64


def test_a_lens_of_another_camera_refuses_the_photo(folder: Path) -> None:
    lens = Lens(matrix=np.eye(3), distortion=np.zeros(5), width_px=100, height_px=300)
    view = read(folder, murky(5.0, seed=3), lens=lens)
    assert failed(view) == {"data"}
    assert view.reading.verdict is Verdict.REFUSED


def test_a_sheet_without_usable_colours_is_refused_with_its_tub(folder: Path) -> None:
    view = read(folder, murky(5.0, exposure=4.0, seed=22))
    assert failed(view) == {"colour"}
    assert view.reading.tub == 12
    assert view.placement is not None


def test_a_bone_that_cannot_be_measured_leaves_the_water(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise BoneError("the bone is cut off", hint="lay it on the rest")

    monkeypatch.setattr(reading_module, "measure_bone", refuse)
    view = read(folder, murky(5.0, seed=3))
    assert failed(view) == {"bone"}
    assert view.reading.verdict is Verdict.DOUBTFUL
    assert view.reading.water is not None


def test_what_a_photo_does_not_show_is_named_in_a_line_each(folder: Path) -> None:
    reading = read(folder, murky(5.0, seed=3)).reading
    assert reading.verdict is Verdict.GOOD
    assert reading.absent == (Absent.BONE,)
    assert remarks(reading) == ("the rest is empty: no bone was measured",)
    dry = read(folder, JarScene(jar=None, bone_lab_rgb=BONE, seed=10)).reading
    assert dry.absent == (Absent.JAR,)
    assert remarks(dry) == ("no jar stands before the sight: no water was measured",)


def test_a_refused_bone_without_a_jar_refuses_the_photo_for_its_own_reason(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise BoneError("the bone is cut off", hint="lay it on the rest")

    monkeypatch.setattr(reading_module, "measure_bone", refuse)
    view = read(folder, JarScene(jar=None, seed=10))
    assert view.reading.verdict is Verdict.REFUSED
    assert failed(view) == {"bone"}


def test_the_jar_in_force_when_the_photo_was_taken_counts() -> None:
    day = datetime(2026, 3, 1, tzinfo=UTC)
    old, new = Jar(path_mm=40.0), Jar(path_mm=60.0)
    settings = ReadSettings(
        dated_jars=(
            DatedJar(since=day, jar=old),
            DatedJar(since=day + timedelta(days=10), jar=new),
        )
    )
    assert settings.jar_at(day - timedelta(days=1)) is old
    assert settings.jar_at(day + timedelta(days=9)) is old
    assert settings.jar_at(day + timedelta(days=10)) is new
    assert ReadSettings(jar=new).jar_at(day) is new


def test_a_missing_file_is_refused() -> None:
    reading = read_photo(Path("missing.jpg"))
    assert reading.verdict is Verdict.REFUSED
    assert reading.taken_at is None
