"""By which clear-water reference and scale of the logbook a photo is read."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from math import exp

import pytest

from greasecheck.errors import WaterError
from greasecheck.garage.standards import murkier_per_m, require_depth, with_standards
from greasecheck.logbook.readings.standards import put_in_force
from greasecheck.logbook.records import Standard, StandardKind
from greasecheck.logbook.store.book import Logbook
from greasecheck.measure.reading import ReadSettings
from greasecheck.measure.turbidity import TurbidityScale, scale_to_json
from greasecheck.measure.water.attenuation import Jar
from greasecheck.measure.water.reference import BANDS, ClearWater, unknown_jar
from greasecheck.measure.water.reference_file import clear_water_to_json

JANUARY, FEBRUARY, MARCH = (datetime(2026, month, 1, tzinfo=UTC) for month in (1, 2, 3))
SCALE = TurbidityScale(slope=1.7, slope_std=0.1, unit="FNU", points=5)


def clear(at: datetime, *, kept: float = 0.9, path_mm: float = 60.0) -> ClearWater:
    known = unknown_jar(path_mm, 1)
    fine = replace(known.fine, ratio=((kept, 0.8, 0.7),) * BANDS)
    return replace(known, fine=fine, camera="Acme", taken_at=at)


def put_clear(book: Logbook, made: ClearWater) -> None:
    body = clear_water_to_json(made)
    put_in_force(
        book,
        Standard(kind=StandardKind.CLEAR_WATER, in_force_from=made.taken_at, body=body),
    )


def put_scale(book: Logbook, at: datetime) -> None:
    body = scale_to_json(SCALE)
    put_in_force(book, Standard(kind=StandardKind.TURBIDITY, in_force_from=at, body=body))


def test_each_photo_is_read_by_what_was_in_force_when_it_was_taken(book: Logbook) -> None:
    put_clear(book, clear(JANUARY, kept=0.9))
    put_clear(book, clear(MARCH, kept=0.8))
    put_scale(book, FEBRUARY)
    found = with_standards(ReadSettings(), book)
    kept, units = [], []
    for at in (JANUARY, FEBRUARY, MARCH):
        jar = found.jar_at(at)
        assert jar.clear is not None
        kept.append(jar.clear.fine.mean_ratio[0])
        units.append(jar.scale.unit)
    assert kept == pytest.approx([0.9, 0.9, 0.8])
    assert units == ["NTU (rough)", "FNU", "FNU"]
    assert found.jar == found.jar_at(MARCH)
    assert found.jar_at(datetime(2025, 12, 1, tzinfo=UTC)) == found.jar_at(JANUARY)


def test_a_file_that_is_named_goes_before_the_logbook(book: Logbook) -> None:
    put_clear(book, clear(JANUARY))
    put_scale(book, JANUARY)
    named = Jar(clear=clear(MARCH, path_mm=40.0), scale=replace(SCALE, unit="mine"))
    found = with_standards(ReadSettings(jar=named), book)
    assert found.jar == found.jar_at(JANUARY) == named


def test_without_any_the_settings_stay(book: Logbook) -> None:
    assert with_standards(ReadSettings(), book) == ReadSettings()


@pytest.mark.parametrize("murk_per_m", [-2.0, 2.0])
def test_a_new_reference_is_murkier_by_what_it_keeps_less(book: Logbook, murk_per_m: float) -> None:
    """By the law of Lambert and Beer, over 60 mm."""
    put_clear(book, clear(JANUARY, kept=0.8))
    made = clear(FEBRUARY, kept=0.8 * exp(-murk_per_m * 0.060))
    assert murkier_per_m(book, made) == pytest.approx(murk_per_m)


def test_only_references_of_one_stand_are_compared(book: Logbook) -> None:
    made = clear(FEBRUARY)
    assert murkier_per_m(book, made) is None
    put_clear(book, clear(MARCH))  # later than it
    assert murkier_per_m(book, made) is None
    put_clear(book, clear(JANUARY))
    assert murkier_per_m(book, made) == pytest.approx(0.0)
    for other in (
        clear(FEBRUARY, path_mm=40.0),
        replace(made, camera="Other"),
        replace(made, sheet_version=2),
    ):
        assert murkier_per_m(book, other) is None


def test_a_depth_that_differs_from_the_reference_s_is_refused() -> None:
    jar = Jar(clear=clear(JANUARY, path_mm=60.0))
    require_depth(jar, None)
    require_depth(jar, 60.0)
    require_depth(Jar(), 40.0)
    with pytest.raises(WaterError, match="of a jar of 60 mm, not 40 mm"):
        require_depth(jar, 40.0)
