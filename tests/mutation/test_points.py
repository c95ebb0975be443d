"""A mutant changes one place, and what it changes still parses."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from tests.mutation.points import code_mutants, table_mutants

MODULE = '''
"""Words with 1.5 and < in them."""
LIMIT = 4
PAIR = (0.5, 2)

def judge(value: float) -> bool:
    if value < LIMIT:  # a comment
        return (value + 1) * 2 > -LIMIT
    return value == 0
'''
TABLE = "# title: 7\nname,low,high\nfox,10,0\n"


def changes(text: str) -> list[str]:
    return [f"{m.before} -> {m.after}" for m in code_mutants(Path("module.py"), text)]


def test_constants_comparisons_operations_and_signs_are_found() -> None:
    numbers = ["4 -> 6", "0.5 -> 0.75", "2 -> 3"]
    operators = ["< -> >=", "> -> <=", "* -> /", "+ -> -", "- -> +", "== -> !="]
    assert sorted(changes(MODULE)) == sorted([*numbers, *operators])


def test_each_mutant_parses_and_differs() -> None:
    for mutant in code_mutants(Path("module.py"), MODULE):
        changed = mutant.applied(MODULE)
        assert ast.dump(ast.parse(changed)) != ast.dump(ast.parse(MODULE))


def test_a_table_s_numbers_are_multiplied_and_its_header_is_left() -> None:
    found = [(m.line, m.before, m.after) for m in table_mutants(Path("t.csv"), TABLE)]
    assert found == [(3, "10", "15.0"), (3, "0", "1.0")]
    first = next(table_mutants(Path("t.csv"), TABLE))
    assert first.applied(TABLE).endswith("fox,15.0,0\n")


def test_a_changed_file_is_not_mutated_blindly() -> None:
    mutant = next(code_mutants(Path("module.py"), MODULE))
    with pytest.raises(ValueError, match="has changed"):
        mutant.applied("something else")
