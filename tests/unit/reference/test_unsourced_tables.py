"""Tables that no published source states: a snapshot, not truth, so that no value slips.

Nothing can be compared with a guess. A change of one is made on purpose: run the benchmarks named
here, state their figures in DEVELOPERS.md and tests/benchmarks/README.md, and enter the new digest.
"""

from __future__ import annotations

import hashlib

import pytest

from greasecheck.reference import data_folder

FORECASTS = "forecast_truths, decisions"
TABLES = (
    ("advice.csv", "decisions, advised_seasons, stalled_alarm", "c8e8d85b40ca3352"),
    ("bone.csv", "bone_scenes", "f5c1dd2c663cb640"),
    ("fat_melting.csv", "none: only words follow", "1c7902a7c0f38d7b"),
    ("leaching_priors.csv", FORECASTS, "11683bb5396bae04"),
    ("recipe_priors.csv", "recipe_comparison, recipe_seasons", "402c24daf3115825"),
    ("recipes.csv", f"{FORECASTS}, recipe_comparison", "71f75ffe442c5a37"),
    ("species.csv", FORECASTS, "6b30b86cbc7fbd2a"),
    ("yellowing.csv", "yellowing_risk", "e7c1d60c8c29a1fc"),
    ("yellowing_rule.csv", "yellowing_risk", "378f76694042a536"),
)


@pytest.mark.parametrize(("name", "benchmarks", "digest"), TABLES, ids=[row[0] for row in TABLES])
def test_a_guess_is_changed_on_purpose(name: str, benchmarks: str, digest: str) -> None:
    lines = (data_folder("calibration") / name).read_text(encoding="utf-8").splitlines()
    rows = "\n".join(line for line in lines if not line.startswith("#"))
    found = hashlib.sha256(rows.encode()).hexdigest()[:16]
    assert found == digest, f"run {benchmarks}, state their figures, then enter {found}"
