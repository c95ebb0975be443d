from __future__ import annotations

import re
import sys
from typing import TYPE_CHECKING

import pytest

from tests.benchmarks import recipe_comparison, recipe_seasons, yellowing_risk

if TYPE_CHECKING:
    from types import ModuleType


@pytest.mark.parametrize(
    ("benchmark", "last_line"),
    [
        (recipe_comparison, r"10 \+ 10: settled after the tubs asked for: (nan|[01]\.\d\d) .*"),
        (recipe_seasons, r"5 \+ 5: ranked \d of 2, tubs that told .* \(true 1.65\)"),
        (yellowing_risk, r"error after 20 photos: most telling 0\.\d+, any 0\.\d+"),
    ],
)
def test_benchmarks_run_quickly(
    benchmark: ModuleType,
    last_line: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(sys, "argv", ["benchmark", "--quick"])
    benchmark.main()
    assert re.fullmatch(last_line, capsys.readouterr().out.splitlines()[-1])
