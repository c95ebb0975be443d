from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greasecheck.predict.yellowing.records import FinishedSkull, Look, Measured, Signs
from greasecheck.predict.yellowing.regression import learn_yellowing, outcome_of
from greasecheck.predict.yellowing.risk import yellowing_risk


def measured(low: float, high: float) -> st.SearchStrategy[Measured | None]:
    return st.none() | st.builds(Measured, value=st.floats(low, high), std=st.floats(0, 1))


LOOKS = st.lists(st.builds(Look, days=st.floats(0.5, 200), yellowed=st.booleans()), max_size=3).map(
    tuple
)
SKULL = st.builds(
    FinishedSkull,
    name=st.just("skull"),
    signs=st.builds(
        Signs,
        residual_grease_share=measured(0, 1),
        yellowness_at_end=measured(-20, 80),
        yellowness_fall_per_week=measured(-10, 20),
        yellow_patch_share=measured(0, 1),
        log2_soak_over_usual=measured(-5, 5),
        resoaked_after_whitening=st.none()
        | st.sampled_from((Measured(value=0), Measured(value=1))),
    ),
    looks=LOOKS,
)


@settings(max_examples=40, deadline=None)
@given(skull=SKULL, known=st.lists(SKULL, max_size=6))
def test_a_risk_is_a_probability(skull: FinishedSkull, known: list[FinishedSkull]) -> None:
    found = yellowing_risk(learn_yellowing(known), skull)
    assert 0 <= found.probability <= 1
    edges = [part.low for part in reversed(found.intervals)]
    edges += [part.high for part in found.intervals]
    assert edges == sorted(edges)
    assert len(found.reasons) + len(found.unmeasured) == 6


@settings(max_examples=15, deadline=None)
@given(known=st.lists(SKULL, min_size=2, max_size=6), order=st.permutations(range(6)))
def test_the_order_of_skulls_changes_nothing(known: list[FinishedSkull], order: list[int]) -> None:
    shuffled = [known[index] for index in order if index < len(known)]
    one, other = learn_yellowing(known), learn_yellowing(shuffled)
    risks = [
        yellowing_risk(model, FinishedSkull(name="new", signs=Signs())).probability
        for model in (one, other)
    ]
    assert risks[0] == pytest.approx(risks[1], abs=0.03)  # draws of another mode's last digits


@settings(max_examples=60, deadline=None)
@given(looks=LOOKS)
def test_white_ends_before_yellow_begins(looks: tuple[Look, ...]) -> None:
    outcome = outcome_of(looks)
    assert (outcome is None) == (not looks)
    if outcome is not None and outcome.yellow_by_days is not None:
        assert outcome.white_until_days < outcome.yellow_by_days
        assert np.isfinite(outcome.yellow_by_days)
