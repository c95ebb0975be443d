"""Edges of wide stripes: as sharp where faint as where strong, unless a camera smooths them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
import pytest
from PIL import Image

from greasecheck.measure import read_all
from greasecheck.measure.ladder import limits
from greasecheck.measure.ladder.signs import edges
from greasecheck.model import Verdict
from greasecheck.reference.ladder.plate import dip_ladder
from tests.synthetic.ladder_light.compose import Shooting
from tests.synthetic.ladder_light.photos import named, write_photo

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.model import FloatArray, Reading

BAR_MM, LEFT_MM = dip_ladder().stripes.coarse_bar_mm, dip_ladder().stripes.coarse.x_mm
PLACES_MM = 100.0 + 2.5 * np.arange(40)
FAINT_FROM_MM = float(PLACES_MM[20])
AT = datetime(2026, 3, 4, 18, 5, tzinfo=UTC)
(MURKY,) = named("single107")


@dataclass(frozen=True, slots=True)
class Stripes:
    """Stripes whose contrast decays down the plate, with blurred edges, seen by plate places."""

    decay_per_mm: float = 0.02
    strong_blur_mm: float = 0.3
    faint_blur_mm: float = 0.3
    aside_mm: float = 0.0

    def at(self, places_mm: FloatArray) -> FloatArray:
        x, y = places_mm.T
        phase = np.pi * (x - self.aside_mm - LEFT_MM - BAR_MM / 2) / BAR_MM
        blur = np.where(y < FAINT_FROM_MM - 1.25, self.strong_blur_mm, self.faint_blur_mm)
        wave = sum(
            (-1) ** (k // 2)
            * np.cos(k * phase)
            / k
            * np.exp(-((k * np.pi * blur / BAR_MM) ** 2) / 2)
            for k in range(1, 40, 2)
        )
        light = 0.5 + 2 / np.pi * wave * np.exp(-self.decay_per_mm * (y - PLACES_MM[0]))
        return np.repeat(light[:, None], 3, axis=1)


def seen(monkeypatch: pytest.MonkeyPatch, stripes: Stripes, **changed: Any) -> float:  # noqa: ANN401 - fields of Sampled
    """Return the ratio of such stripes; a place on the plate stands for the pixel that sees it."""
    monkeypatch.setattr(edges, "look", lambda _eye, _surface, at: SimpleNamespace(pixels=at))
    made = {"std": 1e-4, "inside": np.ones(len(PLACES_MM), bool), **changed}
    given: tuple[Any, ...] = (
        stripes,
        None,
        None,
        SimpleNamespace(
            places_mm=PLACES_MM,
            inside=made["inside"],
            coarse=SimpleNamespace(std=np.full(len(PLACES_MM), made["std"])),
        ),
    )
    return edges.edges_ratio(*given)


@pytest.mark.parametrize("decay_per_mm", [0.0, 0.01, 0.03])
@pytest.mark.parametrize("blur_mm", [0.1, 0.8])
def test_stripes_as_sharp_at_all_depths_are_sound(
    monkeypatch: pytest.MonkeyPatch, decay_per_mm: float, blur_mm: float
) -> None:
    found = seen(monkeypatch, Stripes(decay_per_mm, blur_mm, blur_mm))
    assert found == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize("aside_mm", [0.0, 0.7, -1.2])
def test_faint_stripes_whose_edges_are_blurred_are_told(
    monkeypatch: pytest.MonkeyPatch, aside_mm: float
) -> None:
    """A Gaussian takes exp(-(k pi blur / bar)^2 / 2) of the harmonic k."""
    smoothed = Stripes(faint_blur_mm=0.8, aside_mm=aside_mm)
    expected = np.exp(4 * (np.pi / BAR_MM) ** 2 * (0.8**2 - 0.3**2))
    found = seen(monkeypatch, smoothed)
    assert found == pytest.approx(expected, rel=0.005)
    assert not limits.EDGES.check(found).passed


def test_edges_that_vanish_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    assert seen(monkeypatch, Stripes(faint_blur_mm=20.0, decay_per_mm=0.0)) == 1.0  # none shows
    found = seen(monkeypatch, Stripes(faint_blur_mm=4.0, decay_per_mm=0.0))
    assert 50 < found < 1e6


def test_only_what_shows_and_lies_in_the_picture_is_compared(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    smoothed = Stripes(faint_blur_mm=0.8)
    above = np.arange(len(PLACES_MM)) < 20
    assert seen(monkeypatch, smoothed, inside=above) == pytest.approx(1.0, abs=1e-3)
    assert seen(monkeypatch, smoothed, std=0.18) == pytest.approx(1.0, abs=1e-3)
    assert seen(monkeypatch, smoothed, inside=PLACES_MM[5] > PLACES_MM) == 1.0


def test_sharp_stripes_have_the_same_contrast_at_both_harmonics(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(edges, "look", lambda _eye, _surface, at: SimpleNamespace(pixels=at))
    sampled = SimpleNamespace(places_mm=PLACES_MM)
    given: tuple[Any, ...] = (Stripes(0.0, 0.0, 0.0), None, None, sampled)
    found = edges.harmonics(*given)
    assert found == pytest.approx(np.ones((len(PLACES_MM), 2)), abs=0.03)


def read(path: Path) -> Reading:
    (found,) = read_all(path)
    return found


def failed(found: Reading) -> set[str]:
    return {check.name for check in found.checks if not check.passed}


def test_a_photo_that_its_camera_smooths_is_no_good_reading(tmp_path: Path) -> None:
    """By a guided filter (He, Sun & Tang 2013), which blurs what is fainter than its range."""
    sound = write_photo(tmp_path / "sound.jpg", MURKY, Shooting(), at=AT)
    assert read(sound).verdict is Verdict.GOOD, failed(read(sound))
    with Image.open(sound) as picture:
        codes, exif = np.asarray(picture, dtype=np.float32), picture.getexif()
    mean, square = (cv2.boxFilter(values, -1, (7, 7)) for values in (codes, codes**2))
    kept = (square - mean**2) / (square - mean**2 + 10.0**2)
    smooth = cv2.boxFilter(kept, -1, (7, 7)) * codes + cv2.boxFilter((1 - kept) * mean, -1, (7, 7))
    pixels = np.clip(np.rint(smooth), 0, 255).astype(np.uint8)
    Image.fromarray(pixels).save(tmp_path / "smooth.jpg", quality=93, exif=exif)
    assert "strong_over_faint_edges" in failed(read(tmp_path / "smooth.jpg"))
