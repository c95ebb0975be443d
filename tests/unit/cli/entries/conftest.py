"""The logbook that commands enter into where a test names no other: two tubs, nothing else."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.unit.cli.photos.test_read import run

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(autouse=True)
def logbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "season.logbook"
    monkeypatch.setenv("GREASECHECK_LOGBOOK", str(path))
    for tub in (12, 14):
        assert run("tub", tub, "--volume", 60).exit_code == 0
    return path
