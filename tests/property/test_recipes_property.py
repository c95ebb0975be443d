from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greasecheck.model import Recipe
from greasecheck.model.recipe_ratios import RateRatio
from greasecheck.predict.recipes.comparison import compare_recipes
from greasecheck.predict.recipes.records import TubRate

TUBS = st.lists(
    st.builds(
        TubRate,
        name=st.just("tub"),
        log_rate=st.floats(-7, -2),
        std=st.floats(0.02, 0.5),
        recipe=st.sampled_from((Recipe.SOAP, Recipe.AMMONIA)),
        species=st.sampled_from(("deer", "fox", None)),
        temperature_c=st.none() | st.floats(15, 60),
    ),
    min_size=1,
    max_size=12,
)
SWAPPED = {Recipe.SOAP: Recipe.AMMONIA, Recipe.AMMONIA: Recipe.SOAP}


def ratios(tubs: list[TubRate]) -> tuple[RateRatio, ...]:
    return compare_recipes(tubs).ratios


@settings(max_examples=30, deadline=None)
@given(tubs=TUBS, order=st.randoms(use_true_random=False))
def test_the_order_of_tubs_changes_nothing(tubs: list[TubRate], order: object) -> None:
    shuffled = sorted(tubs, key=lambda _: order.random())  # type: ignore[attr-defined] # a Random
    for one, other in zip(ratios(tubs), ratios(shuffled), strict=True):
        assert one.verdict is other.verdict
        assert (one.ratio or 0) == pytest.approx(other.ratio or 0, rel=1e-6)


@settings(max_examples=30, deadline=None)
@given(tubs=TUBS)
def test_swapping_the_labels_inverts_the_ratio(tubs: list[TubRate]) -> None:
    swapped = [replace(tub, recipe=SWAPPED[tub.recipe]) for tub in tubs]
    for one, other in zip(ratios(tubs), ratios(swapped), strict=True):
        if one.ratio is None or other.ratio is None:
            assert one.ratio is other.ratio
            continue
        assert one.ratio * other.ratio == pytest.approx(1, rel=1e-6)
        for part, mirror in zip(one.intervals, other.intervals, strict=True):
            assert part.low * mirror.high == pytest.approx(1, rel=1e-6)


@settings(max_examples=30, deadline=None)
@given(tubs=TUBS)
def test_intervals_nest_about_the_median(tubs: list[TubRate]) -> None:
    for found in ratios(tubs):
        if found.ratio is None:
            continue
        edges = [part.low for part in reversed(found.intervals)]
        edges += [found.ratio, *(part.high for part in found.intervals)]
        assert edges == sorted(edges)
        assert np.isfinite(edges).all()
        assert found.more_tubs_each is None or found.more_tubs_each >= 0


@settings(max_examples=20, deadline=None)
@given(tubs=TUBS)
def test_quicker_ammonia_raises_the_ratio(tubs: list[TubRate]) -> None:
    quicker = [
        replace(tub, log_rate=tub.log_rate + 0.1) if tub.recipe is Recipe.AMMONIA else tub
        for tub in tubs
    ]
    for one, other in zip(ratios(tubs), ratios(quicker), strict=True):
        if one.ratio is not None and other.ratio is not None:
            assert other.ratio > one.ratio * 0.97  # a changed scatter may pull it back a little
