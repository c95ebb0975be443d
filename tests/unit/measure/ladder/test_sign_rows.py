"""A sign of a ladder's picture that is off fails the check named for it, and no other."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from greasecheck.measure.ladder.signs import checks
from greasecheck.model import Bound
from greasecheck.reference.ladder.plate import dip_ladder

ENDS_MM = dip_ladder().stripes.fine.y_mm
SIGNS: dict[str, Any] = {
    "aside_deg": 10.0,
    "black_shift": 0.0,
    "clipped_share": 0.0,
    "colour_detail": 0.5,
    "dry_contrasts": (0.9, 0.95),
    "grey_misfit": 0.05,
    "veil_share": 0.0,
    "wing_ratio": 1.2,
    "contrast_step": 0.0,
    "decay_misfit": 0.05,
    "faint_fading": 1.0,
    "edges_ratio": 1.0,
    "fields_step": 0.0,
    "first_contrast": 0.97,
    "uneven_share": 0.01,
    "lost_step": 0.0,
    "surface_miss_mm": 0.5,
}
FOUND: dict[str, Any] = {
    "white": (0.5, 0.4, 0.3),
    "colourless_share": 0.3,
    "view_deg": 35.0,
    "stripe_px": 6.0,
    "bent_mm": 0.1,
    "coarse_aside_mm": 0.2,
    "dry_mm": 2.0,
    "lean_deg": 1.0,
    "roll_deg": 1.0,
    "misfit_mm": 0.1,
    "bound": None,
}


def failed(monkeypatch: pytest.MonkeyPatch, **changed: Any) -> set[str]:  # noqa: ANN401 - of any kind
    """Return the checks that fail where signs or what was found have these values."""
    for name, usual in SIGNS.items():
        value = changed.get(name, usual)
        monkeypatch.setattr(checks, name, lambda *_, value=value: value)
    found = {name: changed.get(name, value) for name, value in FOUND.items()}
    surface = SimpleNamespace(
        level_mm=ENDS_MM + found["dry_mm"],
        lean_rad=np.radians(found["lean_deg"]),
        roll_rad=np.radians(found["roll_deg"]),
    )
    given: tuple[Any, ...] = (
        SimpleNamespace(white=np.array(found["white"]), colourless_share=found["colourless_share"]),
        SimpleNamespace(),
        SimpleNamespace(),
        SimpleNamespace(surface=surface, misfit_mm=found["misfit_mm"]),
        SimpleNamespace(
            view_cos=np.cos(np.radians(found["view_deg"])),
            stripe_px=found["stripe_px"],
            bent_mm=found["bent_mm"],
            coarse_aside_mm=found["coarse_aside_mm"],
        ),
        SimpleNamespace(haze_per_m=5.0, bound=found["bound"]),
    )
    return {row.name for row in checks.all_signs(*given) if not row.passed}


@pytest.mark.parametrize(
    ("name", "changed"),
    [
        ("stripe_px", {"stripe_px": 3.0}),
        ("view_from_upright_deg", {"view_deg": 14.0}),
        ("view_from_upright_deg_most", {"view_deg": 65.0}),
        ("view_from_the_side_deg", {"aside_deg": 45.0}),
        ("dry_white_light", {"white": (0.04, 0.05, 0.03)}),
        ("clipped_share", {"clipped_share": 0.03}),
        ("colourless_share", {"colourless_share": 0.9}),
        ("colour_detail", {"colour_detail": 0.1}),
        ("dry_stripes_sharpness", {"dry_contrasts": (0.5, 0.95)}),
        ("dry_contrast", {"dry_contrasts": (0.75, 0.8)}),
        ("dry_veil", {"veil_share": 0.1}),
        ("black_shift", {"black_shift": 0.2}),
        ("grey_misfit", {"grey_misfit": 0.3}),
        ("wing_light_ratio", {"wing_ratio": 2.0}),
        ("dry_stripes_mm", {"dry_mm": 8.0}),
        ("marks_misfit_mm", {"misfit_mm": 0.5}),
        ("bent_stripes_mm", {"bent_mm": 0.5}),
        ("surface_apart_mm", {"surface_miss_mm": 3.0}),
        ("coarse_aside_mm", {"coarse_aside_mm": 2.0}),
        ("lean_deg", {"lean_deg": 8.0}),
        ("lean_deg", {"lean_deg": -8.0}),
        ("lean_deg", {"roll_deg": 8.0}),
        ("lean_deg", {"roll_deg": -8.0}),
        ("uneven_share", {"uneven_share": 0.1}),
        ("first_bars_contrast", {"first_contrast": 0.8}),
        ("decay_misfit", {"decay_misfit": 0.2}),
        ("contrast_step", {"contrast_step": 0.1}),
        ("contrast_step", {"lost_step": 0.1, "bound": Bound.ABOVE}),
        ("fields_step", {"fields_step": 0.1}),
        ("faint_fading_ratio", {"faint_fading": 1.5}),
        ("strong_over_faint_edges", {"edges_ratio": 1.1}),
    ],
)
def test_each_sign_fails_its_own_check(
    monkeypatch: pytest.MonkeyPatch, name: str, changed: dict[str, Any]
) -> None:
    assert failed(monkeypatch) == set()
    assert failed(monkeypatch, **changed) == {name}


def test_one_bright_channel_is_light_enough(monkeypatch: pytest.MonkeyPatch) -> None:
    """Under warm lamps white paper has little blue."""
    assert failed(monkeypatch, white=(0.5, 0.2, 0.03)) == set()


def test_ends_lost_in_murk_count_only_where_haze_is_a_bound(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert failed(monkeypatch, lost_step=0.5) == set()


def test_stripes_that_lie_under_water_are_not_dry(monkeypatch: pytest.MonkeyPatch) -> None:
    assert failed(monkeypatch, dry_mm=-20.0) == set()
