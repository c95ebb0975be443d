"""An answer that cannot be written says why, and leaves nothing half written."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from greasecheck.cli.shared.options import write_bytes
from greasecheck.errors import DataFileError


@pytest.mark.parametrize(
    ("number", "hint"),
    [
        (errno.ENOSPC, "make room and try again"),
        (errno.EFBIG, "make room and try again"),
        (errno.EROFS, "choose a place that you may read and write"),
        (errno.EBUSY, "choose a folder you may write to"),
    ],
)
def test_what_the_system_refuses_is_told_with_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, hint: str
) -> None:
    def refuse(*_: object) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(Path, "write_bytes", refuse)
    page = tmp_path / "season.html"
    with pytest.raises(DataFileError) as refused:
        write_bytes(page, b"<!doctype html>", "page")
    assert refused.value.problem == f"cannot write the page {page}: {os.strerror(number)}"
    assert refused.value.hint == hint
    assert list(tmp_path.iterdir()) == []
