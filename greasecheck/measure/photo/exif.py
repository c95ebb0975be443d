"""A photo's own data: when, by which camera, which way up, in which colour space."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from typing import TYPE_CHECKING, Any

from PIL.ExifTags import GPS, IFD, Base

from greasecheck.errors import PhotoError
from greasecheck.model import TimeSource

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from PIL.Image import Exif

TIME_TAGS = (  # time, its zone, its fraction of a second; CIPA DC-008-2023 (Exif 3.0), 4.6.6
    (Base.DateTimeOriginal, Base.OffsetTimeOriginal, Base.SubsecTimeOriginal),
    (Base.DateTimeDigitized, Base.OffsetTimeDigitized, Base.SubsecTimeDigitized),
)
TIME = re.compile(r"(\d{4})[:-](\d\d)[:-](\d\d)[ T](\d\d):(\d\d):(\d\d)")
OFFSET = re.compile(r"([+-])(\d\d):?(\d\d)")
YEARS = range(2001, 2100)  # a clock that lost its battery starts in 1970, 1980 or 2000
XMP_ORIENTATION = re.compile(rb"tiff:Orientation(?:=[\"']|>)\s*([1-8])\s*[\"'<]")
GPS_DATE = re.compile(r"(\d{4}):(\d\d):(\d\d)")
# Nearly all zones lie whole half hours from UTC. The last fix may be old: one in eight falls near a
# half hour by chance, and twice as many with twice the tolerance.
ZONE_STEP, GPS_LATE = timedelta(minutes=30), timedelta(minutes=2)
LARGEST_OFFSET = timedelta(hours=14)
UNKNOWN_CAMERA = "unknown"
SOFTWARE_TAG = 0x0131
FOCAL_MM = (8.0, 600.0)  # from fisheye to telephoto; 0 is written for unknown
OVERLAY_MARK = "greasecheck overlay"  # written into pictures of what was found
ADOBE_RGB_MARK = "R03"  # DCF 2.0 (CIPA DC-009-2010): interoperability index of Adobe RGB


@dataclass(frozen=True, slots=True, kw_only=True)
class ExposureTime:
    """A zone-aware time and where it came from."""

    at: datetime
    source: TimeSource


def exposure_time(path: Path, exif: Exif, default_zone: tzinfo | None) -> ExposureTime:
    """Return when a photo was taken.

    Parameters
    ----------
    path : pathlib.Path
        The file, whose time stands in where EXIF has none that makes sense.
    exif : PIL.Image.Exif
        Its EXIF, possibly empty.
    default_zone : datetime.tzinfo or None
        Zone of times without one; None for that of this computer.

    Raises
    ------
    PhotoError
        When not even the file has a time.
    """
    tags = exif.get_ifd(IFD.Exif)
    for time_tag, offset_tag, fraction_tag in TIME_TAGS:
        local = _local_time(_text(tags, time_tag), _text(tags, fraction_tag))
        if local is not None:
            zone = _zone(_text(tags, offset_tag)) or _zone_by_gps(exif, local)
            return _in_zone(local, zone, default_zone)
    return ExposureTime(at=_file_time(path, default_zone), source=TimeSource.FILE)


def camera_name(exif: Exif) -> str:
    """Return make and model, or "unknown".

    Examples
    --------
    >>> from PIL.Image import Exif
    >>> exif = Exif()
    >>> exif[Base.Make], exif[Base.Model] = "Acme", "Acme Snap 2"
    >>> camera_name(exif)
    'Acme Snap 2'
    """
    make, model = _text(exif, Base.Make), _text(exif, Base.Model)
    both = model if model.lower().startswith(make.lower()) else f"{make} {model}".strip()
    return both or UNKNOWN_CAMERA


def focal_35mm(exif: Exif) -> float | None:
    """Return the focal length of a 35 mm camera of the same view [mm]; None where none is stated.

    Examples
    --------
    >>> from PIL.Image import Exif
    >>> exif = Exif()
    >>> exif.get_ifd(IFD.Exif)[Base.FocalLengthIn35mmFilm] = 26
    >>> focal_35mm(exif)
    26.0
    """
    value = exif.get_ifd(IFD.Exif).get(Base.FocalLengthIn35mmFilm)
    if isinstance(value, int | float) and FOCAL_MM[0] <= value <= FOCAL_MM[1]:
        return float(value)
    return None


def is_overlay(exif: Exif) -> bool:
    """Return whether a picture shows what was found in a photo, drawn on it."""
    return str(exif.get(SOFTWARE_TAG)) == OVERLAY_MARK


def orientation(exif: Exif) -> int:
    """Return the EXIF orientation, 1 to 8; 1 when it is missing or makes no sense."""
    value = exif.get(Base.Orientation)
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def xmp_orientation(xmp: bytes) -> int:
    """Return the orientation, 1 to 8, that XMP states; 1 when it states none.

    Examples
    --------
    >>> xmp_orientation(b'<rdf:Description tiff:Orientation="6"/>')
    6
    """
    found = XMP_ORIENTATION.search(xmp)
    return int(found[1]) if found else 1


def is_adobe_rgb(exif: Exif) -> bool:
    """Return whether a camera marked the photo as Adobe RGB, which it may do without profile."""
    return _text(interoperability(exif), 1) == ADOBE_RGB_MARK


def interoperability(exif: Exif) -> Mapping[int, Any]:
    """Return the tags of the interoperability part; none where there is no such part."""
    try:
        return exif.get_ifd(IFD.Interop)
    except KeyError:  # Pillow before 13
        return {}


def _file_time(path: Path, default_zone: tzinfo | None) -> datetime:
    try:
        changed = datetime.fromtimestamp(path.stat().st_mtime, tz=UTC)
        found = changed.astimezone(default_zone) if changed.year in YEARS else None
    except (OSError, OverflowError, ValueError):
        found = None
    if found is None:
        raise PhotoError(
            f"{path.name}: neither it nor its file has a plausible time",
            hint="set the camera's clock, and take the photo again",
        )
    return found


def _local_time(text: str, fraction: str) -> datetime | None:
    found = TIME.fullmatch(text)
    if not found or int(found[1]) not in YEARS:
        return None
    microsecond = int(fraction.ljust(6, "0")[:6]) if re.fullmatch(r"\d+", fraction) else 0
    year, month, day, hour, minute, second = (int(part) for part in found.groups())
    try:
        zoned = datetime(year, month, day, hour, minute, second, microsecond, tzinfo=UTC)
    except ValueError:
        return None
    return zoned.replace(tzinfo=None)


def _zone(text: str) -> tzinfo | None:
    if text == "Z":
        return UTC
    found = OFFSET.fullmatch(text)
    if not found:
        return None
    offset = timedelta(hours=int(found[2]), minutes=int(found[3]))
    if offset > LARGEST_OFFSET or int(found[3]) >= 60:
        return None
    return timezone(-offset if found[1] == "-" else offset)


def _zone_by_gps(exif: Exif, local: datetime) -> tzinfo | None:
    """Find the zone from the satellites' time, UTC, unless that is an old fix."""
    tags = exif.get_ifd(IFD.GPSInfo)
    date = GPS_DATE.fullmatch(_text(tags, GPS.GPSDateStamp))
    if date is None:
        return None
    try:
        year, month, day = (int(part) for part in date.groups())
        hour, minute, second = (float(part) for part in tags[GPS.GPSTimeStamp])
        fix = datetime(year, month, day, tzinfo=UTC)
        fix += timedelta(hours=hour, minutes=minute, seconds=second)
    except (ArithmeticError, KeyError, TypeError, ValueError):
        return None
    apart = local.replace(tzinfo=UTC) - fix
    offset = ZONE_STEP * round(apart / ZONE_STEP)
    near = abs(apart - offset) <= GPS_LATE and abs(offset) <= LARGEST_OFFSET
    return timezone(offset) if near else None


def _in_zone(local: datetime, zone: tzinfo | None, default_zone: tzinfo | None) -> ExposureTime:
    if zone is not None:
        return ExposureTime(at=local.replace(tzinfo=zone), source=TimeSource.EXIF)
    at = local.astimezone() if default_zone is None else local.replace(tzinfo=default_zone)
    return ExposureTime(at=at, source=TimeSource.EXIF_DEFAULT_ZONE)


def _text(tags: Mapping[int, object], tag: int) -> str:
    """Return a tag's text without padding; empty when it is missing or no text."""
    value = tags.get(tag)
    if isinstance(value, bytes):
        value = value.decode("latin-1")
    return value.split("\0")[0].strip() if isinstance(value, str) else ""
