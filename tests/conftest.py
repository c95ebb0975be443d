from __future__ import annotations

import os
import signal
from pathlib import Path

import pytest

from tests.browser import browser

__all__ = ["browser"]

# Heap that one process of the suite may use; what wants more fails with a MemoryError instead of
# taking the machine down. Twice what the largest test uses; a browser inherits it.
MOST_HEAP_BYTES = 4 * 1024**3
# Coverage is that of the unit tests. These run thousands of times what others run as well, and
# tracing makes a forecast take twice as long.
UNTRACED = tuple(
    Path(__file__).parent / name
    for name in ("faults", "property", "synthetic", "unit/cli/answers", "unit/cli/setup")
)
# glibc then keeps memory for the next picture to be drawn. By itself it takes and gives back pages
# for each array, which is a third of the time.
KEPT_MEMORY = {"MALLOC_MMAP_THRESHOLD_": str(2**30), "MALLOC_TRIM_THRESHOLD_": str(2**31 - 1)}


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave the tests of `UNTRACED` out of coverage, where it is on: its marker fails without."""
    if config.getoption("no_cov"):
        return
    for item in items:
        if any(folder in item.path.parents for folder in UNTRACED):
            item.add_marker(pytest.mark.no_cover)


def pytest_configure() -> None:
    """Give this process one thread for linear algebra, and cap the memory that it may use.

    So it is with all that it starts, which also keep memory. There is a process for each core, and
    threads of OpenBLAS that have no core wait at its expense. Memory is capped where possible.
    """
    for name, value in {"OPENBLAS_NUM_THREADS": "1", **KEPT_MEMORY}.items():
        os.environ.setdefault(name, value)
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
