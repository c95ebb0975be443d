"""What a command costs: the processor time of a fresh process, which other work hardly moves."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from statistics import fmean
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

BARE_INTERPRETER = ("-c", "pass")
GREASECHECK = ("-m", "greasecheck")


def cpu_s(arguments: Sequence[str], logbook: str = "", stdin: str = "") -> float:
    """Return the processor time of ``python ARGUMENTS`` [s]; the command must succeed."""
    before = _children_s()
    subprocess.run(
        [sys.executable, *arguments],
        check=True,
        env={**os.environ, "GREASECHECK_LOGBOOK": logbook, "OPENBLAS_NUM_THREADS": "1"},
        input=stdin,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    return _children_s() - before


def _children_s() -> float:
    spent = resource.getrusage(resource.RUSAGE_CHILDREN)
    return spent.ru_utime + spent.ru_stime


def in_turn(commands: Mapping[str, Sequence[str]], rounds: int, logbook: str) -> dict[str, float]:
    """Return each command's mean time [s], all run in turn so that all meet one weather."""
    spent: dict[str, list[float]] = {name: [] for name in commands}
    for _ in range(rounds):
        for name, arguments in commands.items():
            spent[name].append(cpu_s(arguments, logbook))
    return {name: fmean(times) for name, times in spent.items()}
