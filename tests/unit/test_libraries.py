"""The declared libraries, their floors and the tested versions fit together."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.version import Version

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
TESTED = [
    Requirement(line)
    for line in (ROOT / ".ci" / "constraints.txt").read_text(encoding="utf-8").splitlines()
]
DECLARED = [Requirement(line) for line in PROJECT["dependencies"]]


@pytest.mark.parametrize("declared", DECLARED, ids=lambda one: one.name)
def test_each_library_has_a_floor_and_a_tested_version_above_it(declared: Requirement) -> None:
    [floor] = declared.specifier
    assert floor.operator == ">="
    tested = [one for one in TESTED if one.name == declared.name]
    assert tested, "renew .ci/constraints.txt as DEVELOPERS.md tells"
    for one in tested:
        [exact] = one.specifier
        assert exact.operator == "=="
        assert Version(exact.version) >= Version(floor.version)


def test_the_licence_is_in_the_wheel() -> None:
    [file] = PROJECT["license-files"]
    text = (ROOT / file).read_text(encoding="utf-8")
    assert text.startswith("MIT License")
    assert re.search(r"without restriction.*WITHOUT WARRANTY OF ANY KIND", text, re.DOTALL)
