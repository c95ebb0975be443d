"""Smear on the jar of a first sheet is told by the bars' edges, and never read as murky water."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import pytest

from greasecheck.measure.reading import view_photo
from greasecheck.model import Verdict
from tests.benchmarks.degraded_photos import settings_for
from tests.synthetic.degraded.picture import developed, load, save, soft_box, truths

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.model import Reading


def smeared(name: str, blur_mm: float, veil: float, folder: Path) -> Reading:
    """Read a photo whose jar blurs all behind it, and veils it by its mean light."""
    truth = next(one for one in truths() if one.file.name == name)
    scenery, path = load(truth), folder / name
    jar = soft_box(scenery.mm, scenery.jar, 1.0)[..., None]
    mean = (scenery.light * jar).sum(axis=(0, 1)) / jar.sum(axis=(0, 1))
    blurred = cv2.GaussianBlur(scenery.light, (0, 0), blur_mm * scenery.px_per_mm)
    seen = (1 - veil) * blurred + veil * mean
    save(developed(scenery.light + jar * (seen - scenery.light)), truth, path)
    return view_photo(path, settings_for(truth.file.parent)).reading


def failed(reading: Reading) -> set[str]:
    return {check.name for check in reading.checks if not check.passed}


@pytest.mark.parametrize("name", ["12_tub12_may.jpg", "c0050_g90_a95.jpg", "c0200_g90_a95.jpg"])
def test_smear_is_named_and_thick_smear_refused(name: str, tmp_path: Path) -> None:
    smear = smeared(name, 0.25, 0.05, tmp_path)
    assert smear.verdict is not Verdict.GOOD
    assert "fine_edges_behind_jar" in failed(smear)
    thick = smeared(name, 0.5, 0.08, tmp_path)
    assert thick.verdict is Verdict.REFUSED
    assert "fine_edges_behind_jar" in failed(thick)


def test_clean_glass_is_not_blamed_for_murk(tmp_path: Path) -> None:
    murky = smeared("c0200_g95_a95.jpg", 0.02, 0.0, tmp_path)
    assert "fine_edges_behind_jar" not in failed(murky)
