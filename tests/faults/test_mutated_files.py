"""A short run of `tests.benchmarks.mutated_files`: spoiled files do no harm."""

from pathlib import Path

import pytest

from tests.benchmarks.mutated_files import Tally, _difference, quick_run, table
from tests.faults.mutant_worker import Answer

PROC = Path("/proc/self/clear_refs")


@pytest.mark.slow
@pytest.mark.skipif(not PROC.exists(), reason="memory is measured by Linux's /proc")
def test_spoiled_files_do_no_harm() -> None:
    tally = quick_run()
    assert tally.faults == [], "\n".join(table(tally))
    assert tally.counts.total() > 130
    assert sum(n for (_, outcome), n in tally.counts.items() if outcome == "refused") > 60
    assert sum(n for (_, outcome), n in tally.counts.items() if outcome == "good-and-right") > 15


def answer(water_per_m: float | None, tub: int = 12) -> Answer:
    return Answer(
        verdict="good", outcome="logged", reason="", tub=tub, taken_at=None, bone_yi=20.0,
        water_per_m=water_per_m, water_std_per_m=0.5, bone_std=1.0, cpu_s=0.1, peak_mib=100.0,
        bug="",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        (answer(4.4), ""),
        (answer(4.6), "water 4.6 for 4 ± 0.5"),
        (answer(None), "water None for 4 ± 0.5"),
        (answer(4.0, tub=14), "tub 14 for 12"),
    ],
)
def test_what_differs_from_the_sound_file_is_told(changed: Answer, told: str) -> None:
    assert _difference(changed, answer(4.0)) == told


def test_the_table_counts_kinds_by_outcomes() -> None:
    tally = Tally()
    tally.add("a", "refused")
    tally.add("b", "refused", "it broke")
    assert tally.faults == ["b: it broke"]
    assert "2 files" in "\n".join(table(tally))
