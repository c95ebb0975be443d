"""The clear-water reference and steps of a dilution series from drawn photographs."""

from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from greasecheck.errors import DataFileError, WaterError
from greasecheck.measure import stand
from greasecheck.measure.checks.verdict import refusal
from greasecheck.measure.reading import ReadSettings
from greasecheck.measure.stand import view_clear_water, view_dilution
from greasecheck.measure.water.attenuation import Jar
from greasecheck.measure.water.reference import ClearPhoto, make_clear_water
from greasecheck.measure.water.reference_file import clear_water_from_json, clear_water_to_json
from tests.synthetic.jar_scene import JarScene
from tests.unit.measure.jar_photos import murky, reference, save


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("photos")


def test_reference_survives_its_file(folder: Path) -> None:
    made = reference(folder)
    assert clear_water_from_json(clear_water_to_json(made), "clear.json") == made


@pytest.mark.parametrize("text", ["", "{}", "[1]", '{"kind": "clear water", "schema": 99}'])
def test_other_files_are_no_reference(text: str) -> None:
    with pytest.raises(DataFileError, match=r"clear\.json"):
        clear_water_from_json(text, "clear.json")


def test_reference_needs_photos_that_agree(folder: Path) -> None:
    clear = view_clear_water(save(folder, JarScene(seed=100, tub=None)), ReadSettings())
    dirty = view_clear_water(save(folder, JarScene(jar=0.8, seed=101, tub=None)), ReadSettings())
    with pytest.raises(WaterError, match="differs from the others"):
        make_clear_water([clear, dirty], 60.0)
    with pytest.raises(WaterError, match="different cameras"):
        make_clear_water([clear, replace(clear, camera="another")], 60.0)
    with pytest.raises(WaterError, match="no photo"):
        make_clear_water([], 60.0)


def test_several_photos_make_a_surer_reference(folder: Path) -> None:
    seen: list[ClearPhoto] = [
        view_clear_water(save(folder, JarScene(seed=110 + n, tub=None)), ReadSettings())
        for n in range(3)
    ]
    one, three = make_clear_water(seen[:1], 60.0), make_clear_water(seen, 60.0)
    assert three.photos == 3
    assert three.fine.relative_std[1] < one.fine.relative_std[1]


def test_a_photo_saved_again_is_no_second_one(folder: Path) -> None:
    path = save(folder, JarScene(seed=130, tub=None))
    copy = path.with_name("saved_again.jpg")
    with Image.open(path) as picture:
        picture.save(copy, quality=95, exif=picture.getexif())
    seen = [view_clear_water(each, ReadSettings()) for each in (path, copy)]
    other = view_clear_water(save(folder, JarScene(seed=131, tub=None)), ReadSettings())
    assert make_clear_water(seen, 60.0) == make_clear_water(seen[:1], 60.0)
    assert make_clear_water([*seen, other], 60.0).photos == 2


def test_murky_water_or_an_empty_jar_is_no_reference(folder: Path) -> None:
    with pytest.raises(WaterError, match="the water or the jar is not clear"):
        view_clear_water(save(folder, murky(20.0, seed=3, tub=None)), ReadSettings())
    with pytest.raises(WaterError, match="not shifted as water shifts them"):
        view_clear_water(save(folder, JarScene(filled=False, seed=15, tub=None)), ReadSettings())


@pytest.mark.parametrize(("attenuation_per_m", "veil"), [(2.5, 0.11), (6.0, 0.19)])
def test_a_bath_that_is_hardly_murky_is_no_reference(
    folder: Path, attenuation_per_m: float, veil: float
) -> None:
    bath = save(folder, replace(murky(attenuation_per_m, seed=3, tub=None), veil=veil))
    with pytest.raises(WaterError, match="veiled as by murky water"):
        view_clear_water(bath, ReadSettings())


def test_a_tubs_tag_in_the_slot_is_refused_until_it_is_called_tap_water(folder: Path) -> None:
    tagged = save(folder, JarScene(seed=120, tub=12))
    with pytest.raises(WaterError, match="shows the tag of tub 12") as told:
        view_clear_water(tagged, ReadSettings())
    assert "say that it is tap water" in told.value.hint
    assert view_clear_water(tagged, ReadSettings(), tap_water=True).doubts == ()


def test_dilution_step_from_a_photo(folder: Path) -> None:
    settings = ReadSettings(jar=Jar(clear=reference(folder)))
    step = view_dilution(save(folder, murky(10.0, seed=3)), settings, 12.0, 0.3)
    assert (step.turbidity, step.turbidity_std) == (12.0, 0.3)
    assert step.attenuation_per_m == pytest.approx(10.0, rel=0.1)
    with pytest.raises(WaterError, match="outside the range"):
        view_dilution(save(folder, JarScene(seed=7)), settings, 0.0, 0.1)


def test_a_check_without_a_number_is_told(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rows = (refusal("sight", note="no bars: show the bars"),)
    monkeypatch.setattr(stand, "clear_water_checks", lambda *_: rows)
    with pytest.raises(WaterError, match="no bars") as told:
        view_clear_water(save(folder, JarScene(seed=100, tub=None)), ReadSettings())
    assert told.value.hint == "show the bars"
