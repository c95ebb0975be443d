"""The readers of files that users hand in: bytes in, a sound record or an error in clear words."""

from __future__ import annotations

import math
import warnings
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from types import MappingProxyType
from typing import Any

import numpy as np

from greasecheck.errors import GreasecheckError
from greasecheck.logbook.csv.faults import Faults
from greasecheck.logbook.csv.lines import read_lines
from greasecheck.logbook.store.tables import TABLES
from greasecheck.measure import turbidity
from greasecheck.measure.photo.exif import camera_name, exposure_time, is_adobe_rgb, orientation
from greasecheck.measure.photo.header import _exif, _exif_of, read_header
from greasecheck.measure.photo.tone_profile import profile_transfer
from greasecheck.measure.sheet import lens
from greasecheck.measure.water import reference as clear_water
from greasecheck.measure.water.reference_file import clear_water_from_json, clear_water_to_json
from greasecheck.model import Lens, Stroke
from greasecheck.reference.geometry import read_geometry
from greasecheck.reference.lookup import read_lookup
from greasecheck.reference.patches.cgats import read_cgats
from greasecheck.reference.patches.values import read_patch_values

Reader = Callable[[Path], object]


# What numbers, times, texts and tables stumble over.
ODD = (
    b"nan", b"NaN", b"inf", b"-inf", b"Infinity", b"1e999", b"1e308", b"1e-320", b"-0", b"-1",
    b"9" * 5000, b"\0", b"\xff\xfe", b"\xef\xbb\xbf", b'"', b"'", b",", b";", b"\r", b"\n", b"\t",
    b"=1+1", b"[" * 3000, b"{", b"null", b"true", b"\x1b[31m", "\u0663".encode(), b"0001-01-01",
    b"9999-12-31T23:59:59", b"+99:99",
)  # fmt: skip


def require_sound(value: object) -> None:
    """Assert that a record holds finite numbers and times with a zone, all the way down."""
    if isinstance(value, float):
        assert math.isfinite(value), value
    elif isinstance(value, datetime):
        assert value.tzinfo is not None
    elif isinstance(value, np.ndarray):
        assert value.dtype.kind != "f" or np.isfinite(value).all()
    elif is_dataclass(value):
        for field in fields(value):
            require_sound(getattr(value, field.name))
    elif isinstance(value, Mapping):
        for part in value.values():
            require_sound(part)
    elif isinstance(value, (tuple, list)):
        for part in value:
            require_sound(part)


def read_with(reader: Reader, content: bytes) -> None:
    """Read bytes; only errors in clear words may come of it, with what to do about them."""
    with TemporaryDirectory() as folder:
        read_from(reader, content, Path(folder) / "file")


def read_from(reader: Reader, content: bytes, path: Path) -> None:
    """Read bytes as `read_with` does, by way of a given file."""
    path.write_bytes(content)
    result = _result(reader, path)
    if isinstance(result, GreasecheckError):
        assert result.problem
        assert result.hint
    else:
        require_sound(result)


def _result(reader: Reader, path: Path) -> object:
    try:
        return reader(path)
    except GreasecheckError as error:
        return error


def _text(path: Path) -> str:
    from greasecheck.cli.shared.options import read_text  # noqa: PLC0415 - as the commands read it

    return read_text(path, "file")


def _clear_water(path: Path) -> object:
    record = clear_water_from_json(_text(path), path.name)
    assert clear_water_from_json(clear_water_to_json(record), "again") == record
    return record


def _scale(path: Path) -> object:
    record = turbidity.scale_from_json(_text(path), path.name)
    assert turbidity.scale_from_json(turbidity.scale_to_json(record), "again") == record
    return record


def _lens(path: Path) -> object:
    record = lens.read_lens(path)
    path.write_text(lens.lens_to_json(record), encoding="utf-8")
    again = lens.read_lens(path)
    np.testing.assert_array_equal(again.matrix, record.matrix)
    np.testing.assert_array_equal(again.distortion, record.distortion)
    return record


def _outline(path: Path) -> object:
    from greasecheck.cli.shared.options import read_outlines  # noqa: PLC0415 - as the command reads it

    return read_outlines(path, Stroke.OUTLINE)


def _series(path: Path) -> object:
    from greasecheck.cli.setup.stand import _rows, _step  # noqa: PLC0415 - as the command reads it
    from greasecheck.measure.reading import ReadSettings  # noqa: PLC0415 - as above

    rows = [row for row in _rows(path) if "photo" not in row]
    return turbidity.fit_scale([_step(row, path, ReadSettings()) for row in rows], "FNU")


def _time(path: Path) -> object:
    from greasecheck.words.times import exact  # noqa: PLC0415 - as the commands do
    from greasecheck.words.typed_times import parse_time  # noqa: PLC0415 - as the commands do

    time = parse_time(path.read_text(encoding="utf-8", errors="replace"))
    assert exact(time)
    return time


def _span(path: Path) -> object:
    from greasecheck.words.typed_times import parse_span  # noqa: PLC0415 - as the commands do

    span = parse_span(path.read_text(encoding="utf-8", errors="replace"))
    assert abs(span) <= timedelta(days=36_525)
    return span


def _lookup(path: Path) -> object:
    table = read_lookup(path)
    return [table.texts(name) for name in table.names]


def _exif_record(path: Path) -> object:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # as `read_header` does
        exif = _exif(lambda: _exif_of(path.read_bytes()))
    time = exposure_time(path, exif, UTC)
    return time, camera_name(exif), orientation(exif), is_adobe_rgb(exif)


def _profile(path: Path) -> object:
    return profile_transfer(path.name, path.read_bytes())


def _header(path: Path) -> object:
    header = read_header(path.name, path.read_bytes())
    assert header.width_px > 0
    assert header.height_px > 0
    return header.gamma


def _tables(path: Path) -> object:
    """Read a file as each of the logbook's tables, with faults counted or rows taken."""
    for table in TABLES:
        require_sound([line.row for line in read_lines(path, table, Faults())])
    return None


READERS: Mapping[str, Reader] = MappingProxyType(
    {
        "cgats": read_cgats,
        "patch_values": read_patch_values,
        "geometry": read_geometry,
        "lookup": _lookup,
        "clear_water": _clear_water,
        "scale": _scale,
        "lens": _lens,
        "outline": _outline,
        "series": _series,
        "time": _time,
        "span": _span,
        "tables": _tables,
        "exif": _exif_record,
        "profile": _profile,
        "header": _header,
    }
)


def samples() -> Mapping[str, tuple[bytes, ...]]:
    """A sound file or two for each reader, to begin from."""
    return MappingProxyType(_samples())


def _samples() -> dict[str, tuple[bytes, ...]]:
    from greasecheck.reference import data_folder  # noqa: PLC0415 - only for the samples
    from tests.unit.measure.photo_files import (  # noqa: PLC0415 - as above
        SRGB_CURVE,
        curve_table,
        exif_with,
        icc_profile,
    )

    calibration, photos = data_folder("calibration"), data_folder("sample_images")
    jar = clear_water.unknown_jar(60.0, 1)
    exif = exif_with(
        Make="Acme", Orientation=6, DateTimeOriginal="2026:01:02 03:04:05",
        OffsetTimeOriginal="+01:00", SubsecTimeOriginal="25",
    )  # fmt: skip
    one_lens = Lens(
        matrix=np.diag([900.0, 900, 1]), distortion=np.zeros(5), width_px=1200, height_px=800
    )
    patches = (photos / "sheet_measured.cgats").read_bytes()
    nominal = (calibration / "sheet_v1_nominal.cgats").read_bytes()
    tubs = (
        b"tub,taken_at,attenuation_per_m,attenuation_std_per_m,bound,verdict,wrong,filled_at,"
        b"recipe,temperature_c,carry_over_share,species,since,name,days\n"
        b"1,2026-03-04 18:05,12.5,0.3,above,good,0,2026-03-01,soap,45,0.1,fox,2026-03-01,a,60\n"
    )
    return {
        "cgats": (patches, nominal),
        "patch_values": (patches, nominal),
        "geometry": ((calibration / "sheet_v1.toml").read_bytes(),),
        "lookup": ((calibration / "advice.csv").read_bytes(), (photos / "truth.csv").read_bytes()),
        "clear_water": (clear_water_to_json(jar).encode(),),
        "scale": (turbidity.scale_to_json(turbidity.ROUGH_SCALE).encode(),),
        "lens": (lens.lens_to_json(one_lens).encode(),),
        "outline": (b"x_mm,y_mm\n1,2\n3,4\n5,7.5\n",),
        "series": (
            b"turbidity,turbidity_std,attenuation_per_m,std_per_m\n"
            b"1,0.1,2,0.2\n2,0.1,4,0.2\n4,0.1,8,0.2\n",
        ),
        "time": (b"2026-03-04T18:05:00+01:00", b"18:05", b"2d3h ago"),
        "span": (b"-1d12h30m", b"+2h"),
        "tables": (tubs, *(",".join(table.names).encode() for table in TABLES)),
        "exif": (bytes(exif.tobytes()),),
        "profile": (icc_profile(SRGB_CURVE), icc_profile(curve_table(0x0233))),
        "header": tuple(_small_pictures(exif)),
    }


def _small_pictures(exif: Any) -> list[bytes]:  # noqa: ANN401 - whatever Pillow takes
    from io import BytesIO  # noqa: PLC0415 - only for the samples

    from PIL import Image  # noqa: PLC0415 - as above

    pictures = []
    for kind in ("JPEG", "PNG", "TIFF", "WEBP"):
        buffer = BytesIO()
        Image.new("RGB", (24, 16), "red").save(buffer, kind, exif=exif)
        pictures.append(buffer.getvalue())
    return pictures
