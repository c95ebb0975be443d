from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.browser import browser

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["browser"]

# Heap that one process of the suite may use; what wants more fails with a MemoryError instead of
# taking the machine down. Twice what the largest test uses; a browser inherits it.
MOST_HEAP_BYTES = 4 * 1024**3


def pytest_configure() -> None:
    """Cap the memory of this process and of all that it starts, where the system can."""
    try:
        import resource  # noqa: PLC0415 - not on every system
    except ImportError:
        return
    _, hard = resource.getrlimit(resource.RLIMIT_DATA)
    most = MOST_HEAP_BYTES if hard == resource.RLIM_INFINITY else min(MOST_HEAP_BYTES, hard)
    resource.setrlimit(resource.RLIMIT_DATA, (most, hard))


@pytest.fixture(autouse=True)
def _own_logbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep the tests away from the logbook of whoever runs them."""
    monkeypatch.setenv("GREASECHECK_LOGBOOK", str(tmp_path / "untouched.logbook"))
