from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from greasecheck.errors import DataFileError
from greasecheck.reference import known_sheets
from greasecheck.reference.patches.cgats import read_cgats
from greasecheck.reference.patches.values import LEAST_Y, nominal_values, read_patch_values

NAMES = nominal_values(known_sheets()[0]).names
VALUE = st.floats(0, 130, allow_nan=False).map(lambda value: round(value, 4))
LUMINANCE = st.floats(2 * LEAST_Y, 130).map(lambda value: round(value, 4))
HEAD = 'CGATS.17\nWHITE_POINT "D65"\nBEGIN_DATA_FORMAT\nSAMPLE_ID XYZ_X XYZ_Y XYZ_Z\n'


@settings(deadline=None, max_examples=30)
@given(
    values=st.lists(st.tuples(VALUE, LUMINANCE, VALUE), min_size=len(NAMES), max_size=len(NAMES)),
    order=st.permutations(range(len(NAMES))),
    gap=st.sampled_from([" ", "\t", "   "]),
)
def test_what_is_written_is_read_in_any_order_of_rows(
    values: list[tuple[float, float, float]], order: list[int], gap: str
) -> None:
    values[0] = (50.0, 50.0, 50.0)  # so that the scale is plain
    rows = [gap.join([NAMES[i], *map(str, values[i])]) for i in order]
    with TemporaryDirectory() as folder:
        path = Path(folder) / "values.txt"
        body = "\n".join([HEAD + "END_DATA_FORMAT", "BEGIN_DATA", *rows, "END_DATA"])
        path.write_text(body, encoding="utf-8")
        read = read_patch_values(path)
    assert read.names == NAMES
    np.testing.assert_allclose(read.xyz, values, atol=1e-9)


@settings(deadline=None, max_examples=60)
@given(
    start=st.integers(0, 2500),
    length=st.integers(1, 400),
    junk=st.binary(max_size=20),
)
def test_a_damaged_file_is_refused_or_read_never_crashes(
    start: int, length: int, junk: bytes
) -> None:
    nominal = nominal_values(known_sheets()[0])
    rows = "\n".join(
        f"{name} {x:.4f} {y:.4f} {z:.4f}"
        for name, (x, y, z) in zip(nominal.names, nominal.xyz, strict=True)
    )
    whole = f"{HEAD}END_DATA_FORMAT\nBEGIN_DATA\n{rows}\nEND_DATA\n".encode()
    with TemporaryDirectory() as folder:
        path = Path(folder) / "values.txt"
        path.write_bytes(whole[:start] + junk + whole[start + length :])
        try:
            table = read_cgats(path)
            values = read_patch_values(path)
        except DataFileError:
            return
    assert all(len(row.values) == len(table.fields) for row in table.rows)
    assert values.names == NAMES
    assert np.isfinite(values.xyz).all()
