from pathlib import Path

import pytest

from greasecheck.errors import DataFileError
from greasecheck.reference.patches.cgats import CgatsTable, read_cgats

GOOD = """CGATS.17
ORIGINATOR "me, with # no comment"  # a comment
NUMBER_OF_FIELDS 2
BEGIN_DATA_FORMAT
SAMPLE_ID
xyz_y
END_DATA_FORMAT
NUMBER_OF_SETS 2
BEGIN_DATA
N1 10.5
"N 2" 20
END_DATA
"""


def read(tmp_path: Path, content: str | bytes) -> CgatsTable:
    path = tmp_path / "mine.txt"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return read_cgats(path)


def test_reads_keywords_fields_and_rows_with_line_numbers(tmp_path: Path) -> None:
    table = read(tmp_path, GOOD)
    assert table.keywords["ORIGINATOR"] == "me, with # no comment"
    assert table.fields == ("SAMPLE_ID", "XYZ_Y")
    assert [(row.line, row.values) for row in table.rows] == [
        (10, ("N1", "10.5")),
        (11, ("N 2", "20")),
    ]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "ascii"])
@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
def test_encodings_with_a_mark_and_all_line_ends_are_read(
    tmp_path: Path, encoding: str, newline: str
) -> None:
    table = read(tmp_path, GOOD.replace("\n", newline).encode(encoding))
    assert [row.line for row in table.rows] == [10, 11]
    assert table.rows[1].values == ("N 2", "20")


@pytest.mark.parametrize(
    ("content", "problem"),
    [
        (b"", "it is empty"),
        (b" \n\n", "it is empty"),
        (GOOD.encode("utf-16-le"), "not plain text"),
        (GOOD.encode() + b"\xff\xfe", "line 13: it is not UTF-8"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "not UTF-8"),
        (GOOD.replace("END_DATA\n", ""), "0 lines 'END_DATA'"),
        (GOOD.replace("BEGIN_DATA_FORMAT", ""), "0 lines 'BEGIN_DATA_FORMAT'"),
        (GOOD + GOOD, "2 lines 'BEGIN_DATA_FORMAT' instead of one"),
        (
            GOOD.replace("BEGIN_DATA\n", "?\n").replace("BEGIN_DATA_F", "BEGIN_DATA\nBEGIN_DATA_F"),
            "sections are out of order",
        ),
        (GOOD.replace("10.5", "10.5 3"), "line 10: 3 values stand where 2 fields"),
        (GOOD.replace("N1 10.5", "N1"), "line 10: 1 values stand where 2 fields"),
        (GOOD.replace("SETS 2", "SETS 3"), "NUMBER_OF_SETS 3 but holds 2"),
        (GOOD.replace("FIELDS 2", "FIELDS 1"), "NUMBER_OF_FIELDS 1 but holds 2"),
        (GOOD.replace("xyz_y", "sample_id"), "SAMPLE_ID are declared twice"),
        (GOOD.replace('N1 10.5\n"N 2" 20\n', ""), "holds no patches"),
    ],
)
def test_malformed_files_are_refused_with_the_reason(
    tmp_path: Path, content: str | bytes, problem: str
) -> None:
    with pytest.raises(DataFileError, match=r"mine\.txt") as caught:
        read(tmp_path, content)
    assert problem in caught.value.problem


def test_a_decimal_comma_that_splits_numbers_is_pointed_out(tmp_path: Path) -> None:
    with pytest.raises(DataFileError) as caught:
        read(tmp_path, GOOD.replace("N1 10.5", "N1 10,5 7"))
    assert "with a point, not a comma" in caught.value.hint


def test_unreadable_files_are_refused(tmp_path: Path) -> None:
    with pytest.raises(DataFileError, match="cannot be read: No such file"):
        read_cgats(tmp_path / "none.txt")
    with pytest.raises(DataFileError, match="cannot be read: Is a directory"):
        read_cgats(tmp_path)


def test_a_huge_file_is_refused_before_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "huge.txt"
    with path.open("wb") as file:
        file.truncate(10**10)  # sparse: takes no space
    with pytest.raises(DataFileError, match="far too large"):
        read_cgats(path)
