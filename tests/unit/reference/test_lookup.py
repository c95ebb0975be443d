from pathlib import Path

import numpy as np
import pytest

from greasecheck.errors import DataFileError
from greasecheck.reference import data_folder
from greasecheck.reference.lookup import HEADER_KEYS, LookupTable, read_lookup

GOOD = "".join(f"# {key}: some {key}: here\n" for key in HEADER_KEYS) + 'name,value\n"a, b",1\nc,\n'


def read(tmp_path: Path, content: str | bytes) -> LookupTable:
    path = tmp_path / "table.csv"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return read_lookup(path)


def test_reads_header_and_columns(tmp_path: Path) -> None:
    table = read(tmp_path, GOOD)
    assert table.header["doi"] == "some doi: here"
    assert table.texts("name") == ("a, b", "c")
    np.testing.assert_array_equal(table.numbers("value"), [1.0, np.nan])


@pytest.mark.parametrize("key", HEADER_KEYS)
def test_each_header_key_is_required(tmp_path: Path, key: str) -> None:
    with pytest.raises(DataFileError, match=f"header lacks {key}"):
        read(tmp_path, GOOD.replace(f"# {key}:", "# other:"))
    with pytest.raises(DataFileError, match=f"header lacks {key}"):
        read(tmp_path, GOOD.replace(f"# {key}: some {key}: here", f"# {key}:"))


@pytest.mark.parametrize(
    ("content", "problem"),
    [
        (GOOD + "d,2,3\n", "row 3 does not have 2 values"),
        (GOOD.partition("name,")[0], "holds no rows"),
        (GOOD.partition('"a, b"')[0], "holds no rows"),
        (GOOD.encode() + b"\xff", "cannot be read"),
    ],
)
def test_malformed_tables_are_refused(tmp_path: Path, content: str | bytes, problem: str) -> None:
    with pytest.raises(DataFileError, match=problem):
        read(tmp_path, content)


def test_missing_files_and_columns_are_refused(tmp_path: Path) -> None:
    with pytest.raises(DataFileError, match="cannot be read"):
        read_lookup(tmp_path / "none.csv")
    with pytest.raises(DataFileError, match="column 'colour' is missing"):
        read(tmp_path, GOOD).texts("colour")
    with pytest.raises(DataFileError, match="column 'name': could not convert"):
        read(tmp_path, GOOD).numbers("name")


@pytest.mark.parametrize(
    "path", sorted(data_folder("calibration").glob("*.csv")), ids=lambda path: path.name
)
def test_every_table_that_comes_along_names_its_source(path: Path) -> None:
    assert len(read_lookup(path).rows) > 0
