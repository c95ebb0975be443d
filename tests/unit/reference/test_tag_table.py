"""Which marker is whose: no two alike, none of those that charts have."""

from __future__ import annotations

from greasecheck.reference import data_folder
from greasecheck.reference.lookup import read_lookup


def test_the_table_of_tags_has_four_runs_that_share_no_marker() -> None:
    # Tubs 10 to 49 have the markers of their own numbers; the rest follows in the free ranges
    expected = {
        **{("tub", number): number + 249 for number in range(1, 10)},
        **{("tub", number): number for number in range(10, 50)},
        **{("tub", number): number + 209 for number in range(50, 201)},
        **{("skull", number): number + 599 for number in range(1, 201)},
    }
    rows = read_lookup(data_folder("calibration") / "tag_ids.csv").rows
    found = {(row["of"], int(row["number"])): int(row["marker_id"]) for row in rows}
    assert len(rows) == len(found)
    assert found == expected
    ids = set(found.values())
    assert len(ids) == len(rows)
    assert not ids & {*range(10), *range(230, 234), *range(240, 250)}
