"""The water's surface from marks drawn where it puts them, and which of several fits is taken."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, cast

import numpy as np
import pytest

from greasecheck.measure.ladder import waterline
from greasecheck.measure.ladder.refraction import Surface, look
from greasecheck.measure.ladder.waterline import EDGE_STD_PX, Waterline, find_waterline, marks
from greasecheck.reference.ladder.plate import dip_ladder
from tests.unit.measure.ladder.test_refraction import eye_at

if TYPE_CHECKING:
    from collections.abc import Mapping

    from greasecheck.measure.ladder.light import Picture
    from greasecheck.model import FloatArray

EYE = eye_at(35.0, 700.0)
MIDDLE_MM = dip_ladder().width_mm / 2
LOW_MM, HIGH_MM = dip_ladder().waterline_range_mm
TRUE = Surface(
    level_mm=(LOW_MM + HIGH_MM) / 2,
    lean_rad=float(np.radians(1.0)),
    roll_rad=float(np.radians(-0.5)),
    middle_mm=MIDDLE_MM,
)
PICTURE = cast("Picture", None)  # not looked at where fits are given


def fit(
    level_mm: float, *, merit: float, end_step: float = 0.3, rung_step: float = 0.3
) -> Waterline:
    return Waterline(
        surface=replace(TRUE, level_mm=level_mm),
        level_std_mm=0.1,
        edges=20,
        residual_px=0.2,
        misfit_mm=0.2,
        merit=merit,
        end_step=end_step,
        rung_step=rung_step,
    )


def solved(noise_px: float, seed: int = 18) -> Waterline:
    """Fit marks that are seen where the true surface puts them, but for noise."""
    count = len(marks().places_mm)
    pixels = look(EYE, TRUE, marks().places_mm).pixels
    off: FloatArray = np.random.default_rng(seed).normal(0.0, noise_px, pixels.shape)
    start = replace(TRUE, level_mm=TRUE.level_mm + 1.0, lean_rad=0.0, roll_rad=0.0)
    return waterline._solved(
        EYE, start, np.ones(count, dtype=bool), pixels + off, np.full(count, 0.3)
    )


def test_marks_are_upper_ends_and_edges_of_rungs_that_take_turns() -> None:
    plate, known = dip_ladder(), marks()
    tops = {plate.stripes.fine.y_mm, plate.stripes.coarse.y_mm}
    assert set(known.places_mm[known.ends, 1]) <= tops
    assert (known.brighter[known.ends] == 1).all()
    for column in plate.rungs.columns:
        of_column = known.places_mm[:, 0] == column.centre_mm[0]
        assert (np.diff(known.brighter[of_column]) != 0).all()
        np.testing.assert_allclose(
            np.diff(known.places_mm[of_column, 1]), plate.rungs.step_mm, atol=1e-9
        )


def test_level_and_lean_are_found_where_the_marks_are_seen() -> None:
    found = solved(noise_px=0.0).surface
    assert found.level_mm == pytest.approx(TRUE.level_mm, abs=0.2)
    assert found.lean_rad == pytest.approx(TRUE.lean_rad, abs=np.radians(0.3))
    assert found.roll_rad == pytest.approx(TRUE.roll_rad, abs=np.radians(0.3))


def test_a_level_is_as_unsure_as_its_marks_scatter_and_no_surer_than_an_edge() -> None:
    """Marks off by eight times an edge's error tell it far worse; exact ones no better than one."""
    usual, wide, none = (
        solved(noise_px=times * EDGE_STD_PX).level_std_mm for times in (1.0, 8.0, 0.0)
    )
    assert usual == pytest.approx(none, rel=0.35)
    assert wide > 4 * usual


def test_marks_that_fit_no_level_count_against_it() -> None:
    assert solved(noise_px=8 * EDGE_STD_PX).merit < solved(noise_px=0.0).merit
    exact = waterline._merit(
        np.ones(len(marks().ends), dtype=bool),
        np.ones(len(marks().ends)),
        np.zeros(len(marks().ends)),
    )
    ends = int(marks().ends.sum())
    assert exact == pytest.approx(waterline.ENDS_COUNT * ends + len(marks().ends) - ends)


@pytest.mark.parametrize(("end_step", "shows"), [(0.16, True), (0.15, True), (0.14, False)])
def test_upper_ends_show_at_least_half_as_much_as_the_rungs_below_them(
    end_step: float, *, shows: bool
) -> None:
    assert fit(TRUE.level_mm, merit=1.0, end_step=end_step).ends_show is shows


def test_peaks_are_the_highest_scores_a_rungs_move_apart() -> None:
    scores = np.zeros(30)
    scores[[5, 7, 20, 26]] = 9.0, 8.0, 7.0, 6.0  # 7 lies beside 5
    assert waterline._peaks(scores) == [5, 20, 26]
    assert waterline._peaks(np.array([1.0, 3.0, 2.0])) == [1]


def chosen(monkeypatch: pytest.MonkeyPatch, fits: Mapping[float, Waterline | None]) -> float | None:
    """Return the level that is taken where guesses at some levels lead to some fits."""

    def score(_picture: object, _eye: object, guess: Surface) -> float:
        return float(any(abs(guess.level_mm - level) < 0.7 for level in fits))

    def improved(_picture: object, _eye: object, guess: Surface) -> Waterline | None:
        return next((one for at, one in fits.items() if abs(guess.level_mm - at) < 0.7), None)

    monkeypatch.setattr(waterline, "_score", score)
    monkeypatch.setattr(waterline, "_improved", improved)
    found = find_waterline(PICTURE, EYE)
    return None if found is None else found.surface.level_mm


def test_of_several_fits_the_one_of_most_merit_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    near, far = LOW_MM + 6.0, LOW_MM + 30.0
    fits = {near: fit(near, merit=10.0), far: fit(far, merit=20.0)}
    assert chosen(monkeypatch, fits) == far
    swapped = {near: fit(near, merit=20.0), far: fit(far, merit=10.0)}
    assert chosen(monkeypatch, swapped) == near


def test_a_fit_that_hides_the_upper_ends_is_some_rungs_off(monkeypatch: pytest.MonkeyPatch) -> None:
    near, far = LOW_MM + 6.0, LOW_MM + 30.0
    fits = {near: fit(near, merit=20.0, end_step=0.05), far: fit(far, merit=10.0)}
    assert chosen(monkeypatch, fits) == far
    assert chosen(monkeypatch, {near: fits[near]}) is None
    assert chosen(monkeypatch, {near: None}) is None


@pytest.mark.parametrize("level_mm", [LOW_MM - 10.0, HIGH_MM + 10.0])
def test_a_level_beyond_the_plates_range_is_none(
    monkeypatch: pytest.MonkeyPatch, level_mm: float
) -> None:
    guess = LOW_MM + 6.0
    assert chosen(monkeypatch, {guess: fit(guess, merit=10.0)}) == guess
    assert chosen(monkeypatch, {guess: fit(level_mm, merit=10.0)}) is None
