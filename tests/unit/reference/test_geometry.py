from pathlib import Path

import pytest

from greasecheck.errors import DataFileError
from greasecheck.reference import data_folder, folder, known_sheets, read_geometry

TEXT = (data_folder("calibration") / "sheet_v1.toml").read_text(encoding="utf-8")


def test_known_sheets_come_oldest_first_and_name_their_values() -> None:
    versions = [sheet.version for sheet in known_sheets()]
    assert versions == sorted(set(versions))
    for sheet in known_sheets():
        assert sheet.patch_values is not None
        assert sheet.patch_values.is_file()


def test_tag_marker_lies_in_the_tag_slot() -> None:
    for sheet in known_sheets():
        slot, marker = sheet.tag_slot, sheet.tag_marker
        assert slot.x_mm < marker.x_mm
        assert marker.x_mm + marker.width_mm < slot.x_mm + slot.width_mm
        assert slot.y_mm < marker.y_mm
        assert marker.y_mm + marker.height_mm < slot.y_mm + slot.height_mm


@pytest.mark.parametrize(
    ("content", "problem"),
    [
        (TEXT.replace("height = 190.0", ""), "lacks or garbles 'height'"),
        (TEXT.replace("width = 260.0", 'width = "wide"'), "lacks or garbles"),
        (TEXT.replace("zone = [44.0, ", "zone = ["), "lacks or garbles"),
        (TEXT.replace("width = 260.0", "width = "), "cannot read"),
    ],
)
def test_malformed_geometry_is_refused(tmp_path: Path, content: str, problem: str) -> None:
    path = tmp_path / "sheet.toml"
    path.write_text(content, encoding="utf-8")
    with pytest.raises(DataFileError, match=problem):
        read_geometry(path)


def test_missing_geometry_and_folders_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(DataFileError, match="cannot read"):
        read_geometry(tmp_path / "none.toml")
    monkeypatch.setattr(folder, "PACKAGE", tmp_path / "greasecheck")
    with pytest.raises(DataFileError, match="'calibration' is missing"):
        data_folder("calibration")


def test_data_in_the_installed_package_goes_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    inside = tmp_path / "greasecheck" / "_data" / "calibration"
    inside.mkdir(parents=True)
    (tmp_path / "calibration").mkdir()
    monkeypatch.setattr(folder, "PACKAGE", tmp_path / "greasecheck")
    assert data_folder("calibration") == inside
