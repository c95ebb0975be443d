from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from greasecheck.errors import DataFileError, LogbookError
from greasecheck.logbook.csv.read import import_tables
from greasecheck.logbook.csv.write import export_tables
from greasecheck.logbook.readings.readings import find_reading, list_readings
from greasecheck.logbook.records import Tub
from greasecheck.logbook.renaming import rename_skull, renumber_tub
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.tables import BATHS, TABLES, TUBS
from greasecheck.logbook.water.baths import enter_tub, list_baths, list_tubs
from tests.logbook_samples import day

if TYPE_CHECKING:
    from pathlib import Path

READINGS = "tub,taken_at,attenuation_per_m,attenuation_std_per_m\n"


def write(folder: Path, name: str, text: str) -> Path:
    path = folder / f"{name}.csv"
    path.write_bytes(text.encode())
    return path


def faults(book: Logbook, *paths: Path) -> list[str]:
    with pytest.raises(DataFileError) as caught:
        import_tables(book, paths)
    ((tubs, readings),) = book.rows(
        "SELECT (SELECT count(*) FROM tubs), (SELECT count(*) FROM readings)"
    )
    assert (tubs, readings) == (0, 0), "all or nothing"
    return [line.strip() for line in caught.value.problem.splitlines()[1:]]


def test_a_simple_table_comes_in(book: Logbook, tmp_path: Path) -> None:
    path = write(tmp_path, "readings", READINGS + "12,2026-03-01T19:00:00+01:00,12.5,0.4\n")
    done = import_tables(book, [path])
    assert (done.added, done.known, done.new_tubs) == ({"readings": 1}, {"readings": 0}, (12,))
    one = find_reading(book, 12)
    assert (one.taken_at, one.attenuation_per_m) == (day(0), 12.5)


def test_a_spreadsheets_own_way_of_writing_is_understood(book: Logbook, tmp_path: Path) -> None:
    path = write(tmp_path, "tubs", '\ufeffname,number\r\n"by the ""door"", dry",12\r\n\r\n')
    import_tables(book, [path])
    assert list_tubs(book) == (Tub(number=12, name='by the "door", dry'),)


def test_refused_photos_name_no_new_tub(book: Logbook, tmp_path: Path) -> None:
    """Their tag may have been misread: a tub comes in with what holds of it."""
    line = f"{'a' * 64},a.jpg,2026-03-01T18:00:00Z,77,too dark,more light,1\n"
    names = "photo_sha256,photo_path,tried_at,tub,problem,hint,software_version\n"
    done = import_tables(book, [write(tmp_path, "attempts", names + line)])
    assert (done.added, done.new_tubs) == ({"attempts": 1}, ())
    assert list_tubs(book) == ()


def test_the_same_file_twice_doubles_nothing(book: Logbook, tmp_path: Path) -> None:
    path = write(tmp_path, "readings", READINGS + "12,2026-03-01T18:00:00Z,12.5,0.4\n")
    import_tables(book, [path])
    done = import_tables(book, [path])
    assert (done.added, done.known, done.new_tubs) == ({"readings": 0}, {"readings": 1}, ())
    assert len(list_readings(book, 12)) == 1


def test_every_fault_is_told_with_its_line(book: Logbook, tmp_path: Path) -> None:
    readings = write(
        tmp_path,
        "readings",
        READINGS
        + "12,2026-03-01T18:00:00Z,12.5,0.4\n"
        + "twelve,yesterday,12.5,-1\n"
        + "12,2026-03-01T18:00:00Z\n"
        + "12,2026-03-02T18:00:00Z,,\n"
        + "12,2026-03-02T18:00:00Z,3,\n"
        + "12,2226-03-02T18:00:00Z,3,1\n"
        + "12,2026-03-01T19:00:00+01:00,12.5,0.4\n"
        + "12,0226-03-02T18:00:00Z,3,1\n",
    )
    tubs = write(tmp_path, "tubs", "number,name\n12,a\n13,\n12,b\n")
    assert faults(book, tmp_path) == [
        "readings.csv line 3: tub: 'twelve' is not a whole number",
        "readings.csv line 3: taken_at: 'yesterday' is not a time such as 2026-03-04T18:05:00Z",
        "readings.csv line 3: attenuation_std_per_m: -1 is not from 0 to 1000000",
        "readings.csv line 4: 2 cells where the first line has 4",
        "readings.csv line 5: the reading holds neither haze nor yellowness",
        "readings.csv line 6: the haze has no standard error",
        "readings.csv line 7: taken_at lies in the future",
        "readings.csv line 9: taken_at is too long ago: check its year",
        "tubs.csv line 4: it has the same number as line 2",
        "readings.csv line 8: it has the same key as line 2",
    ]
    assert tubs.exists()
    assert readings.exists()


def test_a_story_may_be_told_as_of_its_own_time(book: Logbook, tmp_path: Path) -> None:
    ahead = write(tmp_path, "readings", READINGS + "12,2226-03-02T18:00:00Z,3,1\n")
    told = datetime(2227, 1, 1, tzinfo=UTC)
    assert import_tables(book, [ahead], present=told).added == {"readings": 1}


def test_lines_are_counted_as_an_editor_does(book: Logbook, tmp_path: Path) -> None:
    path = write(tmp_path, "tubs", 'number,note\n\n12,"two\nlines"\n\nx,\n')
    assert faults(book, path) == ["tubs.csv line 6: number: 'x' is not a whole number"]


def test_lines_about_the_file_stand_before_the_names(book: Logbook, tmp_path: Path) -> None:
    about = "# title: mine\n# units: L, mostly\n"
    wrong = write(tmp_path, "tubs", about + "number,volumes\n3,60\n")
    assert faults(book, wrong) == ["tubs.csv line 3: tubs has no column volumes"]
    right = write(tmp_path, "tubs", about + "number,volume_l\n3,60\n")
    assert import_tables(book, [right]).added == {"tubs": 1}


def test_a_long_list_of_faults_is_cut(book: Logbook, tmp_path: Path) -> None:
    path = write(tmp_path, "tubs", "number\n" + "x\n" * 1030)
    assert faults(book, path)[-1] == "and 30 more"


@pytest.mark.parametrize(
    ("name", "text", "fault"),
    [
        ("tubs", "number,colour\n", "tubs.csv line 1: tubs has no column colour"),
        ("tubs", "number,number\n", "tubs.csv line 1: a column stands there twice"),
        ("tubs", "name\n", "tubs.csv line 1: the column number is missing"),
        ("tubs", "", "tubs.csv line 1: the column number is missing"),
        ("tubs", 'number\n"12\n', "tubs.csv line 2: it is not CSV: unexpected end of data"),
        (
            "baths",
            "tub,filled_at,dumped_at,recipe\n12,2026-03-02T00:00Z,2026-03-01T00:00Z,soap\n",
            "baths.csv line 2: dumped_at is not after filled_at",
        ),
        (
            "skull_events",
            "skull,happened_at,kind\nfox,2026-03-02T00:00Z,moved\n",
            "skull_events.csv line 2: a skull that was moved needs the tub it went into",
        ),
        (
            "skull_events",
            "skull,happened_at,kind\nfox,2026-03-02T00:00Z,dried\n",
            "skull_events.csv line 2: skull 'fox' is not in skulls",
        ),
        (
            "corrections",
            "reading_key,number,made_at,field\nx,1,2026-03-02T00:00Z,haze\n",
            "corrections.csv line 2: readings have no column haze",
        ),
        (
            "corrections",
            "reading_key,number,made_at,field\nx,1,2026-03-02T00:00Z,wrong\n",
            "corrections.csv line 2: reading_key 'x' is not in readings",
        ),
    ],
)
def test_a_table_that_contradicts_itself_is_refused(
    book: Logbook, tmp_path: Path, name: str, text: str, fault: str
) -> None:
    assert fault in faults(book, write(tmp_path, name, text))


def test_a_row_unlike_the_one_that_stands_there_is_refused(book: Logbook, tmp_path: Path) -> None:
    enter_tub(book, Tub(number=12, name="door", volume_l=60.0))
    with pytest.raises(DataFileError, match=r"tubs\.csv line 2: its name, volume_l differ"):
        import_tables(book, [write(tmp_path, "tubs", "number,name\n12,window\n")])
    with pytest.raises(DataFileError, match="its name is 'window', and 'door' in the logbook"):
        import_tables(book, [write(tmp_path, "tubs", "number,name,volume_l\n12,window,60\n")])
    assert list_tubs(book) == (Tub(number=12, name="door", volume_l=60.0),)


def test_new_rows_may_not_hide_under_old_names(book: Logbook, tmp_path: Path) -> None:
    name = "skulls", "name,species\nhare,rabbit\n"
    first = "12,2026-03-01T18:00:00Z,12.5,0.4,hare\n"
    head = READINGS.replace("\n", ",skull\n")
    import_tables(book, [write(tmp_path, *name), write(tmp_path, "readings", head + first)])
    rename_skull(book, "hare", "old hare")
    renumber_tub(book, 12, 30)
    path = write(tmp_path, "readings", head + first.replace("-01T", "-02T"))
    with pytest.raises(DataFileError) as caught:
        import_tables(book, [path])
    assert [line.strip() for line in caught.value.problem.splitlines()[1:]] == [
        "readings.csv line 2: tub '12' is called '30' now",
        "readings.csv line 2: skull 'hare' is called 'old hare' now",
    ]
    export_tables(book, tmp_path / "all")
    assert set(import_tables(book, [tmp_path / "all"]).added.values()) == {0}, "what stands, stays"


def test_an_import_into_what_may_only_be_read_is_told(book: Logbook, tmp_path: Path) -> None:
    path = write(tmp_path, "tubs", "number\n12\n")
    book.connection.execute("PRAGMA query_only = ON")  # as of a logbook on a locked card
    with pytest.raises(LogbookError, match="may not be written to"):
        import_tables(book, [path])


def test_tables_may_refer_to_what_comes_with_them(book: Logbook, tmp_path: Path) -> None:
    write(tmp_path, "skulls", "name\nfox\n")
    write(tmp_path, "skull_events", "skull,happened_at,kind,tub\nfox,2026-03-02T00:00Z,moved,7\n")
    write(tmp_path, "baths", "tub,filled_at,recipe\n9,2026-03-02T00:00Z,soap\n")
    assert import_tables(book, [tmp_path]).new_tubs == (7, 9)
    assert len(list_baths(book, 9)) == 1


def test_moves_to_where_the_skull_lay_are_told(book: Logbook, tmp_path: Path) -> None:
    write(tmp_path, "skulls", "name\nfox\n")
    head, row = "skull,happened_at,kind,tub\n", "fox,2026-03-{:02}T00:00Z,{},{}\n"
    rows = [(2, "entered", 7), (3, "moved", 8), (4, "moved", 8)]
    write(tmp_path, "skull_events", head + "".join(row.format(*one) for one in rows))
    [idle] = import_tables(book, [tmp_path]).idle_moves
    assert idle.happened_at == datetime(2026, 3, 4, tzinfo=UTC)
    assert import_tables(book, [tmp_path]).idle_moves == ()


@pytest.mark.parametrize("names", [["tubs", "tubs"], [], ["bones"]])
def test_files_must_be_named_after_their_tables(
    book: Logbook, tmp_path: Path, names: list[str]
) -> None:
    paths = [write(tmp_path, name, "number\n12\n") for name in names]
    with pytest.raises(DataFileError):
        import_tables(book, paths)


def test_a_file_that_is_not_there_or_not_utf8_is_told(book: Logbook, tmp_path: Path) -> None:
    with pytest.raises(DataFileError, match="cannot read"):
        import_tables(book, [tmp_path / "tubs.csv"])
    (tmp_path / "tubs.csv").write_bytes("number,name\n12,T\u00fcr\n".encode("latin-1"))
    with pytest.raises(DataFileError, match="not UTF-8"):
        import_tables(book, [tmp_path / "tubs.csv"])


def test_export_writes_each_table_and_overwrites_none(book: Logbook, tmp_path: Path) -> None:
    enter_tub(book, Tub(number=12, volume_l=60.0))
    files = export_tables(book, tmp_path / "out")
    assert [file.stem for file in files] == [table.name for table in TABLES]
    assert files[0].read_text(encoding="utf-8").splitlines() == [
        "number,name,volume_l,started_at,checked_at,merged_into,note",
        "12,,60.0,,,,",
    ]
    with pytest.raises(LogbookError, match="exists already"):
        export_tables(book, tmp_path / "out", [TUBS])
    assert export_tables(book, tmp_path / "other", [BATHS])[0].name == "baths.csv"


def test_export_to_where_nothing_can_be_written_is_told(book: Logbook, tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(LogbookError, match="cannot write to"):
        export_tables(book, tmp_path / "file" / "out")


def test_semicolons_are_one_fault(book: Logbook, tmp_path: Path) -> None:
    write(tmp_path, "tubs", "number;name\n12;a\n13;b\n")
    assert faults(book, tmp_path) == [
        "tubs.csv line 1: its columns are parted by semicolons: save it with commas, and points "
        "for decimals"
    ]


def test_lines_below_unknown_columns_are_not_judged(book: Logbook, tmp_path: Path) -> None:
    write(tmp_path, "tubs", "nummer\ntwelve\n")
    assert faults(book, tmp_path) == [
        "tubs.csv line 1: tubs has no column nummer",
        "tubs.csv line 1: the column number is missing",
    ]


def test_a_name_of_blanks_is_no_name(book: Logbook, tmp_path: Path) -> None:
    write(tmp_path, "tubs", "number,name\n12,  \n")
    assert faults(book, tmp_path) == ["tubs.csv line 2: name: it is empty text"]


def test_boiling_acetone_is_a_fault(book: Logbook, tmp_path: Path) -> None:
    head = "tub,filled_at,recipe,temperature_c\n"
    write(tmp_path, "baths", f"{head}12,2026-03-01T08:00:00Z,acetone,70\n")
    assert faults(book, tmp_path) == ["baths.csv line 2: acetone boils at 56 degrees C"]


def test_two_tubs_of_one_name_do_not_come_in(book: Logbook, tmp_path: Path) -> None:
    enter_tub(book, Tub(number=12, name="by the door"))
    path = write(tmp_path, "tubs", "number,name\n14,By the  Door\n15,window\n16,Window\n")
    with pytest.raises(DataFileError) as caught:
        import_tables(book, [path])
    assert [line.strip() for line in caught.value.problem.splitlines()[1:]] == [
        "tubs.csv line 2: its name 'By the  Door' is that of tub 12, too",
        "tubs.csv line 4: its name 'Window' is that of tub 15, too",
    ]
    assert [tub.number for tub in list_tubs(book)] == [12]
