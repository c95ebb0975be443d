"""What the logbook decides by numbers, from both sides of each."""

from __future__ import annotations

import os
import stat
import time
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from greasecheck.errors import DataFileError, LogbookError
from greasecheck.logbook.csv import lines
from greasecheck.logbook.csv.faults import Faults
from greasecheck.logbook.csv.lines import read_lines
from greasecheck.logbook.dependents import with_dependents
from greasecheck.logbook.looks import join_looks
from greasecheck.logbook.readings.earlier_looks import _checks
from greasecheck.logbook.readings.photo_rules import CLOCK_SLACK, flag_early, is_ahead
from greasecheck.logbook.readings.readings import fault_of
from greasecheck.logbook.records import Skull, SkullEvent, Tub
from greasecheck.logbook.skulls.skulls import enter_skull
from greasecheck.logbook.skulls.stays import Stay
from greasecheck.logbook.store.chain import _few
from greasecheck.logbook.store.drafts import PREFIX, draft_folder, make_private_folder, sweep
from greasecheck.logbook.store.table import number_column, whole_column
from greasecheck.logbook.store.tables import SKULLS, TUBS
from greasecheck.logbook.store.times import to_text
from greasecheck.logbook.story import Moment, _in, shortened
from greasecheck.logbook.today import FLAT_PER_M_PER_DAY
from greasecheck.logbook.undo import last_entry
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub
from greasecheck.model import Recipe, Verdict
from greasecheck.model.fingerprints import agreement
from greasecheck.stages import EventKind
from tests.logbook_samples import day, make_bone, make_reading
from tests.skull_log import happen, put_in
from tests.unit.logbook.test_looks import side

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.logbook.store.columns import Value


def test_a_single_fault_is_told_in_the_singular() -> None:
    faults = Faults()
    faults.add(Path("readings.csv"), 2, "odd")
    with pytest.raises(DataFileError, match=r"^nothing was imported, for 1 fault:\n"):
        faults.raise_if_any()


def test_a_thousand_faults_are_shown_and_more_are_counted() -> None:
    faults = Faults()
    for line in range(1003):
        faults.add(Path("readings.csv"), line, "odd")
    with pytest.raises(DataFileError) as error:
        faults.raise_if_any()
    shown = error.value.problem.split("\n")
    assert shown[0] == "nothing was imported, for 1003 faults:"
    assert shown[-1].strip() == "and 3 more"
    assert len(shown) == 1 + 1000 + 1


@pytest.mark.parametrize(("length", "is_read"), [(1_000_000, True), (1_000_001, False)])
def test_a_line_has_a_million_characters_at_most(
    length: int, is_read: bool, tmp_path: Path
) -> None:
    path = tmp_path / "tubs.csv"
    path.write_text("number,volume_l\n#" + "x" * (length - 2) + "\n", encoding="utf-8")
    faults = Faults()
    assert list(read_lines(path, TUBS, faults)) == []
    with pytest.raises(DataFileError) as error:
        faults.raise_if_any()
    assert ("longer than 1000000" in error.value.problem) is not is_read
    assert lines.LONGEST_LINE == 1_000_000


def test_what_a_skull_did_rests_on_what_went_before_and_nothing_earlier(book: Logbook) -> None:
    enter_tub(book, Tub(number=12))
    put_in(book, "fox", day(0), 12)
    numbers = []
    for at, kind in ((5, EventKind.DEGREASED), (6, EventKind.WHITENED), (8, EventKind.DRIED)):
        happen(book, "fox", kind, day(at))
        last = last_entry(book)
        assert last is not None
        numbers.append(last.number)
    degreased, whitened, dried = numbers
    assert with_dependents(book, degreased) == (dried, whitened, degreased)
    assert with_dependents(book, dried) == (dried,)


def test_the_spread_of_three_sides_is_that_of_their_mean() -> None:
    (look,) = join_looks([side(0, 17.0), side(5, 20.0), side(9, 23.0)])
    assert look.yi_std == pytest.approx((1.5**2 + 6.0 / 2) ** 0.5)
    (alone,) = join_looks([side(0, 17.0)])
    assert alone.yi_std == 1.5


def test_a_side_without_an_area_counts_as_one_square_millimetre() -> None:
    (look,) = join_looks([side(0, 20.0, None), side(5, 30.0, 3.0)])
    assert look.yi_e313 == pytest.approx((20 + 3 * 30) / 4)


@pytest.mark.parametrize(
    ("area", "yellowness", "failed"),
    [
        (1.34, 19.9, []),
        (1.36, -19.9, ["bone_area_to_earlier"]),
        (1.0, 20.1, ["bone_yi_from_earlier"]),
        (1.0, -20.1, ["bone_yi_from_earlier"]),
    ],
)
def test_a_bone_is_like_its_earlier_looks(
    area: float, yellowness: float, failed: list[str]
) -> None:
    bone = make_bone()
    looks = [
        (to_text(day(-3)), bone.area_mm2 / area, bone.yi_e313 - yellowness),
        (to_text(day(-13.9)), bone.area_mm2 / area, bone.yi_e313 - yellowness),
        (to_text(day(-14.1)), None, 0.0),
    ]
    checks = _checks(bone, looks, day(0))
    assert [check.name for check in checks if not check.passed] == failed
    assert len(checks) == 2
    assert _checks(bone, looks[:1], day(0)) == ()
    assert [one.name for one in _checks(bone, looks[1:], day(0))] == []


def test_agreement_is_a_share_of_all_bits() -> None:
    assert agreement("/w==", "AA==") == 0
    assert agreement("8A==", "AA==") == 0.5
    assert agreement("AAAA", "AA==") == 0


@pytest.mark.parametrize(("length", "is_fine"), [(200, True), (201, False)])
def test_a_name_has_200_characters_at_most(length: int, is_fine: bool, book: Logbook) -> None:
    enter_tub(book, Tub(number=12))
    event = SkullEvent(skull="x" * length, happened_at=day(0), kind=EventKind.ENTERED, tub=12)
    skull = Skull(name="x" * length, species="fox")
    if is_fine:
        enter_skull(book, skull, event)
        return
    with pytest.raises(LogbookError, match="longer than 200"):
        enter_skull(book, skull, event)


def test_numbers_lie_within_the_limits_of_their_columns() -> None:
    tub, volume = TUBS.columns[0], next(one for one in TUBS.columns if one.name == "volume_l")
    assert tub.parse("99999") == 99_999
    assert volume.parse("0.1") == 0.1
    plain = number_column("x", "anything")
    assert plain.parse("-1e6") == -1e6
    for column, cell in ((tub, "100000"), (volume, "0.09"), (plain, "1000001")):
        with pytest.raises(ValueError, match="not from"):
            column.parse(cell)
    assert whole_column("n", "n").highest == 99_999
    assert SKULLS.name == "skulls"


@pytest.mark.parametrize(("haze", "is_fine"), [(49_999.0, True), (50_001.0, False)])
def test_no_bath_is_murkier_than_milk(haze: float, is_fine: bool) -> None:
    values: dict[str, Value] = {"attenuation_per_m": haze, "attenuation_std_per_m": 1.0}
    assert (fault_of(values) is None) is is_fine


def test_twenty_faults_of_a_kind_are_shown() -> None:
    assert list(_few(f"f{n}" for n in range(20))) == [f"f{n}" for n in range(20)]
    assert list(_few(f"f{n}" for n in range(23)))[19:] == ["f19", "and 3 more"]


def test_a_draft_that_was_abandoned_for_five_seconds_goes(tmp_path: Path) -> None:
    young, old = tmp_path / f"{PREFIX}young", tmp_path / f"{PREFIX}old"
    for folder, age_s in ((young, 2.0), (old, 6.0)):
        folder.mkdir()
        os.utime(folder, (time.time() - age_s,) * 2)
    sweep(tmp_path)
    assert young.exists()
    assert not old.exists()
    with draft_folder(tmp_path) as made:
        os.utime(made, (time.time() - 60,) * 2)
        sweep(tmp_path)
        assert made.exists()  # a process holds it
    make_private_folder(tmp_path / "private")
    assert stat.S_IMODE((tmp_path / "private").stat().st_mode) == 0o700


def test_the_logbook_is_its_owner_s_alone(book: Logbook) -> None:
    assert stat.S_IMODE(book.path.stat().st_mode) == 0o600


def test_a_short_story_has_the_newest_eight_of_what_recurs() -> None:
    story = [
        Moment(at=day(n), tub=12, kind=kind, what=f"{kind} {n}")
        for n in range(6)
        for kind in ("water", "reading", "entered")
    ]
    short = shortened(story)
    assert short.left_out == 4
    assert [one.what for one in short.moments if one.kind != "entered"][:1] == ["water 2"]
    assert sum(one.kind == "entered" for one in short.moments) == 6
    assert shortened(story[:6]).left_out == 0


def test_a_stay_holds_what_happens_from_its_start_until_before_its_end() -> None:
    stay = Stay(skull="fox", tub=12, since=day(1), until=day(3), soak_since=day(1), degreased=False)
    inside = [_in(stay, day(at)) for at in (0.9, 1, 2, 3)]
    assert inside == [False, True, True, False]


def test_a_rise_counts_from_a_fifth_per_metre_and_day() -> None:
    assert FLAT_PER_M_PER_DAY == 0.2


@pytest.mark.parametrize(("celsius", "is_fine"), [(55.9, True), (56.0, False)])
def test_acetone_boils_at_56_degrees(celsius: float, is_fine: bool, book: Logbook) -> None:
    enter_tub(book, Tub(number=12))
    filling = Filling(recipe=Recipe.ACETONE, temperature_c=celsius)
    if is_fine:
        assert change_water(book, [12], day(0), filling)
        return
    with pytest.raises(LogbookError, match="boil"):
        change_water(book, [12], day(0) + timedelta(minutes=1), filling)


@pytest.mark.parametrize(
    ("minutes", "is_early"), [(-90, True), (-2000, True), (0, False), (1, False)]
)
def test_a_photo_from_before_its_tub_began_is_doubtful(minutes: float, is_early: bool) -> None:
    reading = make_reading(at=day(0) + timedelta(minutes=minutes))
    flagged = flag_early(reading, day(0))
    assert (flagged.verdict is Verdict.DOUBTFUL) is is_early
    if is_early:
        assert flagged.checks[-1].value == pytest.approx(-minutes / 60)  # hours
    assert flag_early(reading, None) is reading


@pytest.mark.parametrize(("ahead", "is_ahead_of_us"), [(0.99, False), (1.01, True)])
def test_a_photo_lies_ahead_by_more_than_clocks_differ(ahead: float, is_ahead_of_us: bool) -> None:
    assert is_ahead(day(0) + ahead * CLOCK_SLACK, day(0)) is is_ahead_of_us
