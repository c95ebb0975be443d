"""The posterior under each form: evidence, weights and which forms are tried, worked by hand."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, permutations
from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.predict.fit import posterior
from greasecheck.predict.fit.done_prior import skull_time
from greasecheck.predict.fit.noise import usual_noise
from greasecheck.predict.fit.parameters import Parameters
from greasecheck.predict.fit.posterior import (
    find_peak,
    first_peak,
    first_whitening,
    fit_forms,
    log_posterior,
)
from greasecheck.predict.fit.sampling import adaptive_draws
from greasecheck.predict.model.history import build_timeline
from greasecheck.predict.model.kinetics import Form
from greasecheck.predict.records import SoakingSkull
from tests.unit.predict.tubs import day, fading_tub

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from greasecheck.model import FloatArray
    from greasecheck.predict.fit.sampling import StudentT, WeightedDraws


def test_evidence_and_weights_of_the_forms() -> None:
    timeline = build_timeline(fading_tub(12), day(12))
    times = (skull_time("deer"),)
    found = fit_forms(timeline, first_peak(timeline, times))
    assert sum(fit.weight for fit in found.fits) == pytest.approx(1)
    for fit in found.fits:
        peak = fit.peak
        z = peak.x[:, None]
        assert peak.log_posterior == pytest.approx(
            float(log_posterior(timeline, peak.parameters, found.whitening, z)[0])
        )
        covariance = peak.proposal.root @ peak.proposal.root.T
        laplace = peak.log_posterior + 0.5 * np.linalg.slogdet(2 * np.pi * covariance)[1]
        assert peak.log_evidence == pytest.approx(laplace)
        # the prior is standard normal, so that its part is known
        zero = np.zeros((peak.parameters.size, 2))
        zero[3, 1] = 1.5
        even = replace(found.whitening, root=0 * found.whitening.root)
        none, moved = log_posterior(timeline, peak.parameters, even, zero)
        assert none == pytest.approx(-0.5 * peak.parameters.size * np.log(2 * np.pi))
        assert none - moved == pytest.approx(1.5**2 / 2)
    weights = [fit.weight for fit in found.fits]
    assert weights == sorted(weights, reverse=True)
    for one, other in pairwise(found.fits):
        ratio = np.log(one.weight / other.weight)
        evidence = one.draws.log_evidence - other.draws.log_evidence
        priors = {Form.TWO_POOLS: 0.36, Form.BROAD: 0.54, Form.EVEN: 0.1}
        prior = np.log(priors[one.peak.parameters.form] / priors[other.peak.parameters.form])
        assert ratio == pytest.approx(0.5 * evidence + prior)


def test_a_form_is_drawn_as_far_as_it_weighs_beside_the_heaviest(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: dict[bytes, float] = {}

    def noted(
        log_target: Callable[[FloatArray], FloatArray],
        first: Sequence[StudentT],
        generator: np.random.Generator,
        enough_draws: float,
    ) -> WeightedDraws:
        asked[first[0].centre.tobytes()] = enough_draws
        return adaptive_draws(log_target, first, generator, enough_draws)

    monkeypatch.setattr(posterior, "adaptive_draws", noted)
    timeline = build_timeline(fading_tub(12), day(12))
    found = fit_forms(timeline, first_peak(timeline, (skull_time("deer"),)))
    priors = {Form.TWO_POOLS: 0.36, Form.BROAD: 0.54, Form.EVEN: 0.1}
    about = {
        fit.peak.x.tobytes(): priors[fit.peak.parameters.form] * np.exp(0.5 * fit.peak.log_evidence)
        for fit in found.fits
    }
    heaviest = max(about.values())
    assert len(asked) == len(found.fits) > 1
    for key, weight in about.items():
        assert asked[key] == pytest.approx(250 * max(weight / heaviest, 0.2))
    assert min(asked.values()) < max(asked.values()) == 250


@pytest.mark.parametrize(
    ("skulls", "forms"),
    [(1, list(Form)), (2, [Form.TWO_POOLS, Form.BROAD]), (4, [Form.TWO_POOLS])],
)
def test_two_skulls_have_no_even_release_and_four_no_broad_spectrum(
    skulls: int, forms: list[Form], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(posterior, "HOPELESS_LOG_EVIDENCE", np.inf)
    several = tuple(
        SoakingSkull(name=f"fox {n}", species="fox", since=day(0)) for n in range(skulls)
    )
    timeline = build_timeline(replace(fading_tub(6), skulls=several), day(6))
    found = fit_forms(timeline, first_peak(timeline, (skull_time("fox"),) * skulls))
    assert sorted(fit.peak.parameters.form for fit in found.fits) == sorted(forms)


def test_before_any_fit_each_reading_counts_as_the_truth() -> None:
    """Errors come in shares of the haze as read, and of what fresh soap usually has of it."""
    timeline = build_timeline(fading_tub(6), day(6))
    form = Parameters(
        form=Form.TWO_POOLS, done_times=(skull_time("deer"),), recipes=timeline.calendar.recipes
    )
    fresh = form.draws(np.zeros((form.size, 1))).fresh_per_m[0, 0]
    seen, noise = timeline.observations, usual_noise()
    haze = np.maximum(seen.haze_per_m, fresh)
    shares = noise.scatter**2 + noise.pace**2 + noise.drift**2
    variance = seen.std_per_m**2 + 0.1**2 + shares * haze**2 + (noise.fresh * fresh) ** 2
    assert np.diag(first_whitening(timeline, form).root) == pytest.approx(variance**-0.5)


def test_of_several_climbs_the_highest_counts_whichever_is_begun_first() -> None:
    timeline = build_timeline(fading_tub(6), day(6))
    form = first_peak(timeline, (skull_time("deer"),)).parameters
    whitening = first_whitening(timeline, form)
    starts = tuple(np.full(form.size, place) for place in (-2.0, 0.0, 2.0))
    alone = [
        find_peak(timeline, form, whitening, (one,), tolerance=1e9).log_posterior for one in starts
    ]
    assert max(alone) > min(alone) + 1, "climbs that end at once differ"
    for order in permutations(starts):
        best = find_peak(timeline, form, whitening, order, tolerance=1e9)
        assert best.log_posterior == max(alone)
