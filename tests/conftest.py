from __future__ import annotations

import signal
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


# Under nohup or in a background job Ctrl-C is ignored, and processes that tests begin inherit that.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)
