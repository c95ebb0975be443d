"""What is kept of answers is worked out anew once any code or table that makes them has changed."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import greasecheck
from greasecheck.garage.soaks import fits, model_version, refresh
from greasecheck.logbook.settings import Setting, put_settings
from greasecheck.logbook.store.book import Logbook

PACKAGE = Path(greasecheck.__file__).parent
# What changes no answer: names of errors, the version's number, processes to work in, and figures
# and times in words, which entries and errors are named by.
NO_ANSWERS = {
    PACKAGE / name
    for name in (
        "__init__.py",
        "errors.py",
        "measure/workers.py",
        "words/figures.py",
        "words/times.py",
    )
}


def imported(file: Path) -> set[Path]:
    """Return the files of the package that a file imports, anywhere in it."""
    nodes = [
        node
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and node.module
    ]
    names = {node.module for node in nodes if node.module}
    names |= {f"{node.module}.{one.name}" for node in nodes for one in node.names}
    own = [
        PACKAGE.joinpath(*name.split(".")[1:]) for name in names if name.startswith("greasecheck.")
    ]
    found = {one.with_suffix(".py") for one in own} | {one / "__init__.py" for one in own}
    return {one for one in found if one.is_file()}


def test_all_code_that_makes_an_answer_is_in_the_version() -> None:
    seen = {Path(str(module.__file__)) for module in (fits, refresh)}
    waiting = list(seen)
    while waiting:
        new = imported(waiting.pop()) - seen
        seen |= new
        waiting += new
    assert len(seen) > 80
    forgotten = seen - set(model_version.model_code()) - NO_ANSWERS
    assert {str(one.relative_to(PACKAGE)) for one in forgotten} == set()


def test_another_code_table_or_price_is_another_version(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    code, table = tmp_path / "code.py", tmp_path / "table.csv"
    monkeypatch.setattr(model_version, "model_code", lambda: iter([code]))
    monkeypatch.setattr(model_version, "data_folder", lambda _: tmp_path)
    versions = []
    for text, row in (("1", "a"), ("2", "a"), ("2", "b")):
        code.write_text(text)
        table.write_text(row)
        model_version.model_version.cache_clear()
        versions.append(model_version.model_version())
    with Logbook(tmp_path / "season.logbook", create=True) as book:
        for chosen in ({}, {Setting.CHANGE_PRICE: "2"}, {Setting.DAY_PRICE: "2"}):
            put_settings(book, chosen)
            versions.append(model_version.answers_version(book))
    model_version.model_version.cache_clear()
    assert len(set(versions)) == len(versions)
