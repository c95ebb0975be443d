from pathlib import Path

import pytest

from tests.browser import browser

__all__ = ["browser"]


@pytest.fixture(autouse=True)
def _own_logbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep the tests away from the logbook of whoever runs them."""
    monkeypatch.setenv("GREASECHECK_LOGBOOK", str(tmp_path / "untouched.logbook"))
