from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from greasecheck.errors import DataFileError
from greasecheck.model import PatchValues
from greasecheck.reference import known_sheets
from greasecheck.reference.patches.values import nominal_values, read_patch_values

SHEET = known_sheets()[0]
NAMES = nominal_values(SHEET).names
XYZ = ("XYZ_X", "XYZ_Y", "XYZ_Z")
LAB = ("LAB_L", "LAB_A", "LAB_B")
Row = Sequence[object]
Read = Callable[..., PatchValues]


def spectral(template: str) -> tuple[str, ...]:
    return tuple(template.format(nm) for nm in range(380, 731, 10))


@pytest.fixture(name="read")
def fixture_read(tmp_path: Path) -> Read:
    """Write a measured file with the same values for each patch and read it."""

    def read(
        fields: Sequence[str],
        value: Row,
        *,
        header: str = 'WHITE_POINT "D65/2"',
        names: Sequence[str] = NAMES,
        changes: dict[str, Row] | None = None,
        name_field: str = "SAMPLE_ID",
    ) -> PatchValues:
        rows = [(name, *(changes or {}).get(name, value)) for name in names]
        lines = [
            "CGATS.17",
            header,
            "BEGIN_DATA_FORMAT",
            " ".join((name_field, *fields)),
            "END_DATA_FORMAT",
            "BEGIN_DATA",
            *(" ".join(map(str, row)) for row in rows),
            "END_DATA",
        ]
        path = tmp_path / "measured.txt"
        path.write_text("\n".join(lines), encoding="utf-8")
        return read_patch_values(path)

    return read


def problem_of(call: Callable[[], object]) -> DataFileError:
    with pytest.raises(DataFileError) as caught:
        call()
    return caught.value


def test_nominal_values_hold_every_patch_with_paper_and_ink() -> None:
    values = nominal_values(SHEET)
    assert set(values.names) == {*SHEET.patches, "paper", "ink"}
    assert not values.measured
    assert "sRGB" in values.source
    assert values.rgb is not None
    assert values.rgb[values.names.index("C4")].tolist() == [78, 149, 87]


def test_values_in_use_cannot_be_changed_by_accident() -> None:
    with pytest.raises(ValueError, match="read-only"):
        nominal_values(SHEET).xyz[0] = 0


def test_xyz_for_d65_is_taken_as_it_stands_and_as_measured(read: Read) -> None:
    values = read(XYZ, (40, 42, 44.5))
    assert values.measured
    assert values.rgb is None
    assert values.names == NAMES
    assert values.of("B3a").tolist() == pytest.approx([40, 42, 44.5])


def test_rows_come_back_in_the_order_of_the_sheet(read: Read) -> None:
    values = read(XYZ, (40, 42, 44), names=NAMES[::-1], changes={"C1": (1, 2, 3)})
    assert values.names == NAMES
    assert values.of("C1").tolist() == pytest.approx([1, 2, 3])


@pytest.mark.parametrize(
    "header",
    [
        'WHITE_POINT "D50/2"',
        'ILLUMINANT "D50"',
        'WEIGHTING_FUNCTION "ILLUMINANT, D50"',
        'ILLUMINATION_NAME D50\nOBSERVER "2"',
    ],
)
def test_white_of_d50_becomes_white_of_d65(read: Read, header: str) -> None:
    for fields, white in ((XYZ, (96.422, 100, 82.521)), (LAB, (100, 0, 0))):
        values = read(fields, white, header=header)
        assert values.of("paper").tolist() == pytest.approx([95.047, 100.0, 108.883], abs=1e-3)


def test_lab_of_a_dark_colour_uses_the_linear_part(read: Read) -> None:
    # below L* 8, Y = L* / 903.3 (CIE 15:2004, section 8.2.1.1); 903.3 is (29/3)^3
    values = read(LAB, (50, 0, 0), changes={"ink": (4, 0, 0)})
    assert values.of("ink")[1] == pytest.approx(100 * 4 * (3 / 29) ** 3, rel=1e-9)
    assert values.of("paper")[1] == pytest.approx(18.4187, abs=1e-4)  # ((50 + 16) / 116)^3


@pytest.mark.parametrize(
    "template",
    ["SPECTRAL_NM{}", "SPECTRAL_{}", "SPECTRAL_NM_{}", "SPEC_{}", "nm{}", "R_{}", "{}", "{}nm"],
)
@pytest.mark.parametrize("scale", [1, 100])
def test_spectra_in_any_spelling_and_scale(read: Read, template: str, scale: float) -> None:
    fields = spectral(template)
    values = read(
        fields,
        [0.25 * scale] * len(fields),
        header="",
        changes={"paper": [0.9 * scale] * len(fields)},
    )
    assert values.of("N3a").tolist() == pytest.approx([23.76, 25.0, 27.22], abs=0.005)


def test_spectra_are_used_before_xyz(read: Read) -> None:
    fields = (*spectral("SPECTRAL_NM{}"), *XYZ)
    values = read(fields, [*([0.5] * 36), 1, 2, 3], header="")
    assert values.of("N3a")[1] == pytest.approx(50.0)


def test_one_name_stands_for_both_twins(read: Read) -> None:
    names = sorted({name.rstrip("ab") for name in NAMES})
    values = read(XYZ, (40, 42, 44), names=names, changes={"N7": (5, 5, 6)})
    assert values.of("N7a").tolist() == values.of("N7b").tolist() == pytest.approx([5, 5, 6])


def test_other_rows_are_left_out_and_sample_name_goes_before_id(read: Read) -> None:
    values = read(XYZ, (40, 42, 44), names=[*NAMES, "board"], name_field="SAMPLE_NAME")
    assert values.names == NAMES


def test_print_colours_of_a_measured_file_follow_its_rows(read: Read) -> None:
    values = read(
        ("RGB_R", "RGB_G", "RGB_B", *XYZ), (1, 2, 3, 40, 42, 44), names=NAMES[::-1],
        changes={"C8": (9, 8, 7, 4, 4, 4)},
    )  # fmt: skip
    assert values.rgb is not None
    assert values.rgb[NAMES.index("C8")].tolist() == [9, 8, 7]


def test_missing_patches_are_listed_with_unknown_names(read: Read) -> None:
    names = [name for name in NAMES if name not in ("C1", "N4b")] + ["C l"]
    error = problem_of(lambda: read(XYZ, (40, 42, 44), names=[n.replace(" ", "") for n in names]))
    assert "lacks the patches N4b, C1" in error.problem
    assert "not known: Cl" in error.hint


def test_a_file_of_another_sheet_is_refused(read: Read) -> None:
    header = 'WHITE_POINT "D65"\nSHEET_VERSION "7"'
    error = problem_of(lambda: read(XYZ, (40, 42, 44), header=header))
    assert "belongs to sheet version 7, not 2" in error.problem


def test_a_nominal_file_can_be_read_for_its_sheet() -> None:
    assert SHEET.patch_values is not None
    path = SHEET.patch_values
    assert read_patch_values(path, SHEET).names == NAMES
    later = replace(SHEET, version=2)
    with pytest.raises(DataFileError, match="version 1, not 2"):
        read_patch_values(path, later)


@pytest.mark.parametrize(
    ("value", "problem", "hint"),
    [
        (("40", "42,1", "44"), "XYZ_Y is '42,1', not a number", "a point, not a comma"),
        (("40", "n/a", "44"), "XYZ_Y is 'n/a', not a number", "correct"),
        (("nan", "42", "44"), "XYZ_X is nan, outside 0 to 130", "again"),
        (("40", "42", "-0.1"), "XYZ_Z is -0.1, outside 0 to 130", "again"),
        (("40", "inf", "44"), "XYZ_Y is inf, outside", "again"),
    ],
)
def test_impossible_values_are_refused_with_their_line(
    read: Read, value: Row, problem: str, hint: str
) -> None:
    error = problem_of(lambda: read(XYZ, (40, 42, 44), changes={NAMES[2]: value}))
    assert "line 9" in error.problem
    assert problem in error.problem
    assert hint in error.hint


@pytest.mark.parametrize(
    ("fields", "value", "header", "problem"),
    [
        (XYZ, (0.4, 0.42, 0.44), 'WHITE_POINT "D65"', "run from 0 to 1"),
        (XYZ, (40, 42, 44), "", "does not state one white"),
        (LAB, (40, 2, 4), 'WHITE_POINT "A"', "does not state one white"),
        (LAB, (40, 2, 4), 'WHITE_POINT "D50"\nILLUMINANT "D65"', "does not state one white"),
        (XYZ, (40, 42, 44), 'WHITE_POINT "D65/10"', "10 degree observer"),
        (LAB, (140, 2, 4), 'WHITE_POINT "D50"', "LAB_L is 140"),
        (LAB, (40, 2, 400), 'WHITE_POINT "D50"', "LAB_B is 400"),
        (("DENSITY",), (1,), "", "neither spectral, XYZ nor LAB"),
        (spectral("NM{}"), [2.5] * 36, "", "neither a fraction nor percent"),
        (spectral("NM{}"), [-2.5] * 36, "", "outside -1 to 150"),
        (spectral("NM{}")[4:], [0.5] * 32, "", "do not run from 400 to 700 nm"),
        (spectral("NM{}")[::3], [0.5] * 12, "", "do not run from 400 to 700 nm"),
        ((*spectral("NM{}"), "R400"), [0.5] * 37, "", "do not run from 400 to 700 nm"),
        (("NM550",), [0.5], "", "do not run from 400 to 700 nm"),
    ],
)
def test_files_that_could_mislead_are_refused(
    read: Read, fields: Sequence[str], value: Row, header: str, problem: str
) -> None:
    assert problem in problem_of(lambda: read(fields, value, header=header)).problem


@pytest.mark.parametrize(
    ("fields", "value"), [(XYZ, (40, 42, 45)), (LAB, (70, 0, 0)), (spectral("NM{}"), (0.4,) * 36)]
)
def test_a_patch_of_no_light_is_refused_by_name(
    read: Read, fields: Sequence[str], value: Row
) -> None:
    gap = {"N1a": (0,) * len(value)}
    header = 'WHITE_POINT "D50/2"'
    assert "N1a" in problem_of(lambda: read(fields, value, header=header, changes=gap)).problem


def test_a_patch_measured_twice_is_refused_with_both_lines(read: Read) -> None:
    error = problem_of(lambda: read(XYZ, (40, 42, 44), names=[*NAMES, NAMES[0]]))
    assert f"line {7 + len(NAMES)}" in error.problem
    assert f"{NAMES[0]} stands on line 7 already" in error.problem


def test_a_file_without_names_is_refused(read: Read) -> None:
    error = problem_of(lambda: read(XYZ, (40, 42, 44), name_field="ROW"))
    assert "no field names the patches" in error.problem


def test_shape_of_the_values(read: Read) -> None:
    xyz = read(XYZ, (40, 42, 44)).xyz
    assert xyz.shape == (len(NAMES), 3)
    assert np.isfinite(xyz).all()
