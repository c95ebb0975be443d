"""The ladders' laws are those that their scripts derive from path-traced tubs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from greasecheck.reference import data_folder
from greasecheck.reference.ladder import colour, eye, slopes
from tests.synthetic.ladder_light import fit_colour, fit_eye, fit_slopes

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.mark.slow
@pytest.mark.parametrize(
    ("derive", "name"),
    [
        (fit_slopes.derive, slopes.TABLE),
        (fit_eye.derive, eye.TABLE),
        (fit_colour.derive, colour.TABLE),
    ],
    ids=["slopes", "eye", "colour"],
)
def test_a_law_is_what_its_script_derives(derive: Callable[[], list[str]], name: str) -> None:
    lines = (data_folder("calibration") / name).read_text(encoding="utf-8").splitlines()
    shipped = [numbers(line) for line in lines if not line.startswith("#")]
    derived = [numbers(line) for line in derive()]
    assert [names for names, _ in derived] == [names for names, _ in shipped]
    # libraries differ in the last digits of a least-squares fit
    assert [value for _, value in derived[1:]] == pytest.approx(
        [value for _, value in shipped[1:]], rel=1e-3, abs=1e-5
    )


def numbers(line: str) -> tuple[str, float]:
    """Return what a line of a law names, and its number; 0 for the line of names."""
    names, _, value = line.rpartition(",")
    return names, 0.0 if value == "value" else float(value)
