"""Patterned cloth meets the picture's rim again and again; uneven cloth hides shaded bone."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import numpy as np
import pytest

from greasecheck.measure.card.cloth import Cloth
from greasecheck.measure.card.pattern import MOST_RUNS, runs_at_rim
from greasecheck.measure.card.pieces import hidden_by_cloth
from greasecheck.measure.reading import ReadSettings, view_photo
from greasecheck.model import Verdict
from greasecheck.words.photos.readings import causes
from tests.synthetic.bone_scene import render
from tests.synthetic.bone_scene.scenes import SceneOrder, photograph
from tests.synthetic.spectral_simulation import CAMERAS, printed_card

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from greasecheck.measure.card.surroundings import Surroundings
    from tests.synthetic.bone_scene.shapes import Map

X, Y = np.meshgrid(np.arange(200), np.arange(150))
ORDER = SceneOrder(
    name="pattern",
    kind="thin arches",
    length_mm=145.0,
    light="window",
    camera=CAMERAS[0],
    seed=4,
    tilt_deg=25.0,
    azimuth_deg=70.0,
    size_px=(960, 720),
)


@pytest.mark.parametrize(
    ("standing", "runs"),
    [
        (np.zeros_like(X, bool), 0),
        (np.hypot(X - 100, Y - 75) < 60, 0),  # a skull
        (X > 150, 1),  # a table behind the cloth
        (X + Y < 60, 1),
        (np.abs(X - 99.5) + np.abs(Y - 74.5) > 120, 4),  # cloth laid askew on a pale table
        (X % 40 < 20, 9),  # that along the left side meets two corners
        ((X // 20 + Y // 20) % 2 == 0, 16),
        ((X + 10) % 40 < 2, 0),  # threads
        ((X + 10) % 40 < 3, 10),
    ],
)
def test_runs_are_counted_once_round(standing: NDArray[np.bool_], runs: int) -> None:
    assert runs_at_rim(standing) == runs


@pytest.mark.parametrize(
    ("std", "share"),
    [
        (2.0, 0.0),  # as even as cloth is: 12 of lightness are seen on any
        (2.1, 100 * ((22 + 12.6 + 16) / 116) ** 3 / 60),
        (5.0, 100 * ((22 + 30 + 16) / 116) ** 3 / 60),
    ],
)
def test_bone_darker_than_six_deviations_of_the_cloth_may_be_lost(std: float, share: float) -> None:
    bone = np.zeros_like(X, bool)
    bone[40:100, 50:150] = True
    luminance = np.where(bone, np.where(X < 130, 60.0, 10.0), 3.5)  # a fifth in the shade
    around = cast("Surroundings", SimpleNamespace(xyz=np.stack([luminance] * 3, axis=-1)))
    cloth = Cloth(lightness=np.full(X.shape, 22.0), std=std)
    assert hidden_by_cloth(around, cloth, bone) == pytest.approx(share)


@pytest.mark.parametrize(("brightness", "said"), [(14.0, "the cloth has a pattern"), (1.0, None)])
@pytest.mark.parametrize("pattern", ["checks", "stripes"])
def test_a_pattern_is_the_cause_that_is_named(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    pattern: str,
    brightness: float,
    said: str | None,
) -> None:
    plain = render._weave

    def woven(places: Map, seed: int) -> Map:
        x, y = places[..., 0] // 25, places[..., 1] // 25
        bright = (x + y) % 2 > 0 if pattern == "checks" else x % 2 > 0
        return np.asarray(plain(places, seed) * np.where(bright, brightness, 1.0), np.float32)

    monkeypatch.setattr(render, "_weave", woven)
    path = tmp_path / "scene.jpg"
    path.write_bytes(photograph(replace(ORDER, name=pattern)).jpeg)
    reading = view_photo(path, ReadSettings(values=printed_card().measured, tub=3)).reading
    told = [one for one in causes(reading) if one.startswith("the cloth has a pattern")]
    assert bool(told) is (said is not None)
    assert (reading.verdict is Verdict.REFUSED) is (said is not None)
    assert MOST_RUNS == 4
