import os
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from PIL.ExifTags import GPS, IFD, Base
from PIL.Image import Exif

from greasecheck.errors import PhotoError
from greasecheck.measure.photo.exif import (
    ExposureTime,
    camera_name,
    exposure_time,
    focal_35mm,
)
from greasecheck.measure.photo.load import load_photo
from greasecheck.measure.photo.tone_profile import srgb_transfer
from greasecheck.model import TimeSource
from tests.unit.measure.photo_files import (
    SRGB_CURVE,
    exif_with,
    gradient,
    icc_profile,
    levels,
    write_photo,
)

OSLO = ZoneInfo("Europe/Oslo")
MTIME = datetime(2026, 5, 6, 7, 8, 9, tzinfo=UTC)


@pytest.fixture(name="path")
def fixture_path(tmp_path: Path) -> Path:
    path = tmp_path / "photo.jpg"
    path.write_bytes(b"x")
    os.utime(path, (MTIME.timestamp(), MTIME.timestamp()))
    return path


def time_of(path: Path, zone: tzinfo | None = OSLO, **tags: object) -> ExposureTime:
    return exposure_time(path, exif_with(**tags), zone)


@pytest.mark.parametrize(
    ("offset", "zone"),
    [
        ("+02:00", timezone(timedelta(hours=2))),
        ("-03:30", timezone(-timedelta(hours=3, minutes=30))),
        ("+0545", timezone(timedelta(hours=5, minutes=45))),
        ("Z", UTC),
        ("+14:00\0", timezone(timedelta(hours=14))),
    ],
)
def test_the_zone_of_the_camera_goes_first(path: Path, offset: str, zone: tzinfo) -> None:
    time = time_of(path, DateTimeOriginal="2026:01:02 03:04:05", OffsetTimeOriginal=offset)
    assert time.source is TimeSource.EXIF
    assert time.at == datetime(2026, 1, 2, 3, 4, 5, tzinfo=zone)
    assert time.at.utcoffset() == zone.utcoffset(None)


@pytest.mark.parametrize("offset", ["", "   :  ", "+25:00", "+01:75", "+14:30", "local"])
def test_without_a_zone_that_makes_sense_the_default_one_is_taken_and_said(
    path: Path, offset: str
) -> None:
    time = time_of(path, DateTimeOriginal="2026:07:02 03:04:05", OffsetTimeOriginal=offset)
    assert time.source is TimeSource.EXIF_DEFAULT_ZONE
    assert time.at == datetime(2026, 7, 2, 1, 4, 5, tzinfo=UTC)  # summer time in Oslo


def test_the_last_resort_is_the_zone_of_this_computer(path: Path) -> None:
    time = time_of(path, None, DateTimeOriginal="2026:07:02 03:04:05")
    assert time.source is TimeSource.EXIF_DEFAULT_ZONE
    assert time.at == datetime(2026, 7, 2, 3, 4, 5).astimezone()
    assert time.at.tzinfo is not None


@pytest.mark.parametrize(
    ("fraction", "microsecond"),
    [("5", 500_000), ("123", 123_000), ("1234567", 123_456), ("", 0), ("x1", 0)],
)
def test_fractions_of_a_second_are_kept(path: Path, fraction: str, microsecond: int) -> None:
    time = time_of(path, DateTimeOriginal="2026:01:02 03:04:05", SubsecTimeOriginal=fraction)
    assert time.at.microsecond == microsecond


def test_the_time_of_digitising_stands_in_with_its_own_zone(path: Path) -> None:
    time = time_of(
        path,
        DateTimeOriginal="    :  :     :  :  ",
        OffsetTimeOriginal="+09:00",
        DateTimeDigitized="2026-01-02 03:04:05",
        OffsetTimeDigitized="+01:00",
    )
    assert time.source is TimeSource.EXIF
    assert time.at == datetime(2026, 1, 2, 2, 4, 5, tzinfo=UTC)


@pytest.mark.parametrize(
    "text",
    [
        "0000:00:00 00:00:00",
        "2026:13:01 00:00:00",
        "2026:02:30 00:00:00",
        "2026:01:02 24:00:00",
        "2026:01:02 03:04:60",
        "9999:12:31 23:59:59",
        "1970:01:01 00:00:00",
        "2000:01:01 00:00:01",
        "nan",
        "",
        "2026:01:02",
        "yesterday, about noon",
        "²026:01:02 03:04:05",
    ],
)
def test_a_time_that_makes_no_sense_gives_way_to_that_of_the_file(path: Path, text: str) -> None:
    time = time_of(path, DateTimeOriginal=text)
    assert time.source is TimeSource.FILE
    assert time.at == MTIME
    assert time.at.utcoffset() == timedelta(hours=2)


def test_the_time_of_a_file_from_before_phones_took_photos_is_none(path: Path) -> None:
    os.utime(path, (0.0, datetime(1999, 1, 1, tzinfo=UTC).timestamp()))
    with pytest.raises(PhotoError, match="plausible time"):
        time_of(path)


@pytest.mark.parametrize("value", [7, 7.5, (1, 2), b"\xff\xfe\x00"])
def test_a_time_of_the_wrong_kind_gives_way_to_that_of_the_file(path: Path, value: object) -> None:
    exif = Exif()
    exif.get_ifd(IFD.Exif)[36867] = value
    assert exposure_time(path, exif, UTC) == ExposureTime(at=MTIME, source=TimeSource.FILE)


def test_time_and_camera_survive_the_way_through_a_file(tmp_path: Path) -> None:
    exif = exif_with(
        Make="Acme\0",
        Model="Snap 2",
        DateTimeOriginal="2026:01:02 03:04:05",
        OffsetTimeOriginal="+01:00",
        SubsecTimeOriginal="25",
    )
    for kind in ("JPEG", "PNG", "WEBP"):
        photo = load_photo(write_photo(tmp_path / kind, gradient(), kind, exif=exif))
        assert photo.taken_at == datetime(2026, 1, 2, 2, 4, 5, 250_000, tzinfo=UTC)
        assert photo.time_source is TimeSource.EXIF
        assert photo.camera == "Acme Snap 2"


def test_time_survives_the_way_through_a_tiff(tmp_path: Path) -> None:
    info = {IFD.Exif: {36867: "2026:01:02 03:04:05", 36881: "+01:00"}}
    photo = load_photo(write_photo(tmp_path / "a.tif", gradient(), "TIFF", tiffinfo=info))
    assert photo.taken_at == datetime(2026, 1, 2, 2, 4, 5, tzinfo=UTC)


@pytest.mark.parametrize(
    ("tags", "name"),
    [
        ({}, "unknown"),
        ({"Make": "Acme"}, "Acme"),
        ({"Model": "Snap"}, "Snap"),
        ({"Make": "ACME", "Model": "Acme Snap"}, "Acme Snap"),
        ({"Make": " ", "Model": "\0\0"}, "unknown"),
    ],
)
def test_camera_name(tags: dict[str, object], name: str) -> None:
    assert camera_name(exif_with(**tags)) == name


def test_adobe_rgb_marked_by_a_camera_without_a_profile_is_honoured(tmp_path: Path) -> None:
    exif = exif_with(ColorSpace=65535)
    exif.get_ifd(IFD.Exif)[IFD.Interop] = {1: "R03"}
    path = write_photo(tmp_path / "a.jpg", gradient(), exif=exif)
    expected = levels() ** (563 / 256)  # Adobe RGB (1998) Color Image Encoding, 4.3.1.2
    np.testing.assert_allclose(load_photo(path).transfer[:, 0], expected, atol=1e-6)


def test_an_embedded_profile_goes_before_the_mark_of_adobe_rgb(tmp_path: Path) -> None:
    exif = exif_with(ColorSpace=65535)
    exif.get_ifd(IFD.Exif)[IFD.Interop] = {1: "R03"}
    embedded = icc_profile(SRGB_CURVE)
    path = write_photo(tmp_path / "a.jpg", gradient(), exif=exif, icc_profile=embedded)
    np.testing.assert_allclose(load_photo(path).transfer, srgb_transfer(), atol=1e-3)


def gps_exif(hour: float, minute: float, date: str = "2026:01:02") -> Exif:
    exif = exif_with(DateTimeOriginal="2026:01:02 03:04:05")
    exif.get_ifd(IFD.GPSInfo)[GPS.GPSDateStamp] = date
    exif.get_ifd(IFD.GPSInfo)[GPS.GPSTimeStamp] = (hour, minute, 3.0)
    return exif


@pytest.mark.parametrize(
    ("exif", "hours"),
    [
        (gps_exif(2, 4), 1),
        (gps_exif(21, 35, "2026:01:01"), 5.5),
        (gps_exif(13, 4), -10),
    ],
)
def test_the_zone_comes_from_the_satellites_where_the_camera_records_none(
    path: Path, exif: Exif, hours: float
) -> None:
    time = exposure_time(path, exif, OSLO)
    assert time.at.utcoffset() == timedelta(hours=hours)
    assert time.source is TimeSource.EXIF


@pytest.mark.parametrize(
    "exif",
    [gps_exif(1, 50), gps_exif(2, 4, "2026:02:30"), gps_exif(2, 4, "yesterday"),
     gps_exif(2, 4, "2026:01:09"), gps_exif(float("nan"), 4)],
)  # fmt: skip
def test_an_old_fix_or_garbage_tells_no_zone(path: Path, exif: Exif) -> None:
    time = exposure_time(path, exif, OSLO)
    assert time.source is TimeSource.EXIF_DEFAULT_ZONE


def test_a_zone_that_the_camera_states_goes_before_that_of_the_satellites(path: Path) -> None:
    exif = gps_exif(2, 4)  # an hour behind the camera's clock, which is set to summer time
    exif.get_ifd(IFD.Exif)[Base.OffsetTimeOriginal] = "+02:00"
    found = exposure_time(path, exif, OSLO)
    assert found.at.utcoffset() == timedelta(hours=2)


def test_the_time_of_taking_goes_before_that_of_digitising(path: Path) -> None:
    time = time_of(
        path,
        DateTimeOriginal="2026:01:02 03:04:05",
        OffsetTimeOriginal="+01:00",
        DateTimeDigitized="2026:03:09 12:00:00",
        OffsetTimeDigitized="+09:00",
    )
    assert time.at == datetime(2026, 1, 2, 2, 4, 5, tzinfo=UTC)


@pytest.mark.parametrize(
    ("stated", "focal_mm"),
    [(0, None), (7, None), (8, 8.0), (26, 26.0), (600, 600.0), (601, None), ("26", None)],
)
def test_a_focal_length_that_no_camera_has_is_none(stated: object, focal_mm: float | None) -> None:
    assert focal_35mm(exif_with(FocalLengthIn35mmFilm=stated)) == focal_mm
