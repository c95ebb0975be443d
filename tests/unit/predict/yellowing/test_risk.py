from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import special

from greasecheck.errors import ForecastError
from greasecheck.predict.yellowing.prior import (
    follow_up_rule,
    sign_priors,
    standardise,
    yellowing_prior_words,
)
from greasecheck.predict.yellowing.records import (
    FinishedSkull,
    Look,
    Measured,
    Outcome,
    RiskReason,
    Signs,
    YellowingRisk,
)
from greasecheck.predict.yellowing.regression import (
    WORTHLESS,
    has_yellowed,
    learn_yellowing,
    mean_risk,
    outcome_of,
)
from greasecheck.predict.yellowing.risk import _after_looks, follow_up_values, yellowing_risk
from greasecheck.predict.yellowing.validation import check_yellowing
from greasecheck.words.risk import risk_words
from tests.benchmarks.yellowing_risk import (
    Looking,
    Truth,
    error_after_photos,
    invent_skulls,
    score,
    true_effects,
)

WHITE, YELLOW = (Look(days=60, yellowed=yellowed) for yellowed in (False, True))


def skull(name: str = "fox", signs: Signs | None = None, *looks: Look) -> FinishedSkull:
    return FinishedSkull(name=name, signs=signs or Signs(), looks=looks)


def patches(share: float, std: float = 0.0) -> Signs:
    return Signs(yellow_patch_share=Measured(value=share, std=std))


def measured(value: float) -> Measured:
    return Measured(value=value)


def invented(count: int, seed: int = 3, looking: Looking = Looking.ALL) -> list[FinishedSkull]:
    generator = np.random.default_rng(seed)
    effects = true_effects(Truth.PRIOR, generator)
    return [one.skull for one in invent_skulls(effects, count, looking, generator)]


def width(found: YellowingRisk) -> float:
    return found.intervals[1].high - found.intervals[1].low


def test_without_outcomes_the_prior_stands() -> None:
    model = learn_yellowing([skull("one"), skull("two", patches(0.3))])
    assert (model.outcomes, model.yellowed, model.without_outcome) == (0, 0, 2)
    priors = sign_priors()
    mean = model.effects @ model.weights
    signs = (1 - WORTHLESS) * priors.effect_means[1:]
    expected = np.append(priors.effect_means[0], signs)
    np.testing.assert_allclose(mean, expected, atol=0.12 * priors.effect_stds.max())
    assert model.worthless == pytest.approx(WORTHLESS, abs=0.02)
    found = yellowing_risk(model, skull())
    assert 0.1 < found.probability < 0.35
    assert found.reasons == ()
    assert found.unmeasured == priors.names
    assert "one finished skull in eight" in yellowing_prior_words()


def test_prior_words_hold() -> None:
    """The usual skull of the words: every sign exactly at its centre."""
    base = special.expit(sign_priors().effect_means[0])
    assert base == pytest.approx(1 / 8, abs=0.01)
    shown = follow_up_rule().shown_by(np.array([21.0, 90.0]))
    assert shown[0] == pytest.approx(0.5)
    assert shown[1] == pytest.approx(7 / 8, abs=0.01)


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("residual_grease_share", 0.02, 0.4),
        ("yellowness_at_end", -2.0, 25.0),
        ("yellowness_fall_per_week", 0.0, 4.0),
        ("yellow_patch_share", 0.0, 0.4),
        ("log2_soak_over_usual", 1.0, -1.0),
        ("resoaked_after_whitening", 1.0, 0.0),
    ],
)
def test_each_sign_bears_as_the_trade_has_it(name: str, low: float, high: float) -> None:
    model = learn_yellowing([])
    little, much = (
        yellowing_risk(model, skull("fox", Signs(**{name: Measured(value=value)})))
        for value in (low, high)
    )
    assert little.probability < much.probability
    assert much.reasons[0].odds_factor > 1
    assert little.reasons[0].odds_factor < 1
    assert name not in much.unmeasured


def said(reason: RiskReason) -> str:
    return risk_words(reason.feature, reason.value, reason.odds_factor)


def test_a_sign_of_no_weight_says_so() -> None:
    centre = float(sign_priors().centres[sign_priors().names.index("yellow_patch_share")])
    found = yellowing_risk(learn_yellowing([]), skull("fox", patches(centre)))
    assert said(found.reasons[0]).endswith("hardly matters")


def test_reasons_come_weightiest_first() -> None:
    signs = replace(patches(0.4), log2_soak_over_usual=Measured(value=0.1))
    found = yellowing_risk(learn_yellowing([]), skull("fox", signs))
    assert found.reasons[0].feature == "yellow_patch_share"


def test_a_sign_that_lowers_the_odds_much_goes_before_one_that_raises_them_little() -> None:
    signs = Signs(yellow_patch_share=measured(0.13), log2_soak_over_usual=measured(2.0))
    factors = [
        one.odds_factor for one in yellowing_risk(learn_yellowing([]), skull("a", signs)).reasons
    ]
    assert factors[0] < 1 < factors[1]
    assert -np.log(factors[0]) > np.log(factors[1])


def test_a_poor_measurement_counts_for_less() -> None:
    model = learn_yellowing([])
    sharp, poor = (yellowing_risk(model, skull("fox", patches(0.4, std))) for std in (0.0, 0.5))
    assert sharp.probability > poor.probability


def test_outcomes_teach() -> None:
    before = yellowing_risk(learn_yellowing([]), skull())
    yellow = [skull(str(n), None, YELLOW) for n in range(20)]
    white = [skull(str(n), None, WHITE) for n in range(20)]
    after_yellow = yellowing_risk(learn_yellowing(yellow), skull())
    after_white = yellowing_risk(learn_yellowing(white), skull())
    assert after_white.probability < before.probability < after_yellow.probability
    assert width(after_white) < width(before)


def test_skulls_that_went_home_change_nothing() -> None:
    known = invented(15)
    unseen = [replace(one, looks=()) for one in invented(15, seed=4)]
    alone, both = learn_yellowing(known), learn_yellowing([*known, *unseen])
    np.testing.assert_array_equal(alone.effects, both.effects)
    np.testing.assert_array_equal(alone.weights, both.weights)
    assert both.without_outcome == 15


def test_an_early_look_counts_for_less_than_a_late_one() -> None:
    early, late = (
        learn_yellowing([skull(str(n), None, Look(days=day, yellowed=False)) for n in range(15)])
        for day in (7.0, 80.0)
    )
    assert yellowing_risk(late, skull()).probability < yellowing_risk(early, skull()).probability


def test_posterior_equals_a_long_random_walk() -> None:
    """Metropolis sampling of the same target, written anew from the likelihood's words."""
    known = [one for one in invented(40) if one.looks]
    arrays = standardise(tuple(one.signs for one in known))
    rule, priors = follow_up_rule(), sign_priors()
    day = np.array([one.looks[0].days for one in known])
    yellow = np.array([one.looks[0].yellowed for one in known])
    shown = special.ndtr(np.log(day / rule.onset_median_days) / rule.onset_log_std)
    nodes, node_weights = np.polynomial.hermite.hermgauss(15)

    def log_target(z: np.ndarray) -> float:
        effects = priors.effect_means + priors.effect_stds * z
        centre = effects[0] + arrays.means @ effects[1:]
        std = np.sqrt(arrays.variances @ effects[1:] ** 2)
        grid = special.expit(centre[:, None] + np.sqrt(2) * std[:, None] * nodes)
        seen = shown * (grid @ node_weights / np.sqrt(np.pi))
        return float(np.log(np.where(yellow, seen, 1 - seen)).sum() - z @ z / 2)

    generator = np.random.default_rng(0)
    z, height, walk = np.zeros(7), log_target(np.zeros(7)), []
    for _ in range(12000):
        step = z + 0.75 * generator.standard_normal(7)
        new = log_target(step)
        if np.log(generator.random()) < new - height:
            z, height = step, new
        walk.append(z)
    path = np.array(walk[1000:])
    model = learn_yellowing(known)
    matter = np.any(model.effects[1:] != 0, axis=0)  # the draws in which signs matter
    found = (model.effects[:, matter].T - priors.effect_means).T / priors.effect_stds[:, None]
    weights = model.weights[matter] / model.weights[matter].sum()
    # 0.2 standard deviations: some 200 independent draws in the walk, 400 in the fit, 2.3 sigma
    np.testing.assert_allclose(found @ weights, path.mean(axis=0), atol=0.2)
    spread = np.sqrt((found**2) @ weights - (found @ weights) ** 2)
    np.testing.assert_allclose(spread, path.std(axis=0), rtol=0.25)
    assert model.pareto_k < 0.7


def test_mean_risk_averages_over_uncertain_signs() -> None:
    arrays = standardise((patches(0.2, 0.1),))
    effects = sign_priors().effect_means[:, None]
    draws = np.random.default_rng(0).standard_normal((200_000, 6))
    z = arrays.means + np.sqrt(arrays.variances) * draws
    plain = special.expit(effects[0] + z @ effects[1:, 0]).mean()
    assert mean_risk(arrays, effects)[0, 0] == pytest.approx(plain, abs=0.003)  # 5 sigma


def test_people_are_shown_eight_in_ten_between_half_and_nineteen_in_twenty() -> None:
    found = yellowing_risk(learn_yellowing([]), skull("fox", patches(0.3, std=0.1)))
    half, most = (one for one in found.intervals if one.probability in {0.5, 0.95})
    shown = found.eight_in_ten
    assert most.low < shown.low < half.low < half.high < shown.high < most.high


@pytest.mark.parametrize("signs", [Signs(), patches(0.1, std=0.05)])
def test_intervals_hold_as_much_of_the_risk_as_they_say(signs: Signs) -> None:
    """What is unknown of the signs is independent of what is unknown of their effects."""
    model, arrays = learn_yellowing([]), standardise((signs,))
    generator = np.random.default_rng(0)
    draws = generator.choice(len(model.weights), 200_000, p=model.weights)
    effects = model.effects[:, draws]
    z = arrays.means.T + np.sqrt(arrays.variances.T) * generator.standard_normal(effects[1:].shape)
    risks = special.expit(effects[0] + (z * effects[1:]).sum(axis=0))
    for one in yellowing_risk(model, skull("fox", signs)).intervals:
        inside = np.mean((risks > one.low) & (risks <= one.high))
        assert inside == pytest.approx(one.probability, abs=0.01)


def test_looks_so_far_change_the_risk() -> None:
    model = learn_yellowing([])
    unseen, white, yellow = (
        yellowing_risk(model, skull("fox", None, *looks)) for looks in ((), (WHITE,), (YELLOW,))
    )
    assert white.probability < 0.3 * unseen.probability
    assert yellow.probability == pytest.approx(1.0)
    assert yellow.intervals[2].low == 1.0


def test_a_skull_seen_white_may_yellow_yet_by_bayes_rule() -> None:
    """Of 1000 skulls half yellow, and s of these by that day; the others were seen white."""
    shown = float(follow_up_rule().shown_by(np.array(WHITE.days)))
    yet, white = 500 * (1 - shown), 1000 - 500 * shown
    left = _after_looks(np.array([0.5]), skull("fox", None, WHITE))
    assert 0.2 < shown < 1
    assert left == pytest.approx(yet / white)


@pytest.mark.parametrize(
    ("looks", "outcome"),
    [
        ((), None),
        ((WHITE,), Outcome(white_until_days=60)),
        ((YELLOW,), Outcome(yellow_by_days=60)),
        (
            (Look(days=90, yellowed=True), Look(days=31, yellowed=False), YELLOW),
            Outcome(white_until_days=31, yellow_by_days=60),
        ),
        ((YELLOW, Look(days=80, yellowed=False)), Outcome(yellow_by_days=60)),
    ],
)
def test_outcomes_of_looks(looks: tuple[Look, ...], outcome: Outcome | None) -> None:
    assert outcome_of(looks) == outcome


def test_measurement_goes_before_the_eye() -> None:
    limit = follow_up_rule().yellowness_rise
    assert has_yellowed(Look(days=40, yellowed=False, yi_rise=limit + 1))
    assert not has_yellowed(Look(days=40, yellowed=True, yi_rise=limit - 1))
    assert has_yellowed(Look(days=40, yellowed=True))


def test_a_look_before_the_whitening_is_refused() -> None:
    with pytest.raises(ForecastError, match="not after the whitening"):
        learn_yellowing([skull("fox", None, Look(days=0.0, yellowed=False))])


def test_too_few_outcomes_give_no_check() -> None:
    assert check_yellowing(invented(10)) is None
    assert check_yellowing([skull(str(n), None, WHITE) for n in range(30)]) is None
    early = Look(days=5, yellowed=False)
    assert check_yellowing([skull(str(n), None, early) for n in range(30)]) is None


def test_outcomes_of_one_kind_alone_give_no_check() -> None:
    """Four of the other kind are too few, five are enough."""
    for many, few in ((YELLOW, WHITE), (WHITE, YELLOW)):
        skulls = [skull(str(n), Signs(), many if n < 26 else few) for n in range(30)]
        assert check_yellowing(skulls) is None
        assert check_yellowing([*skulls, skull("more", Signs(), few)]) is not None


def test_early_looks_are_predicted_as_early_ones() -> None:
    """Of looks on the first day that counts one in four was yellow, as predicted of the like."""
    early = [Look(days=follow_up_rule().first_day, yellowed=one) for one in (True, False)]
    found = check_yellowing([skull(str(n), Signs(), early[n % 4 > 0]) for n in range(40)])
    assert found is not None
    assert np.mean([point.predicted for point in found.curve]) == pytest.approx(0.25, abs=0.08)


def test_check_by_cross_validation() -> None:
    generator = np.random.default_rng(8)
    effects = np.array([-0.5, 1.5, 0.5, 0.5, 1.5, -0.5, -0.4])
    known = [one.skull for one in invent_skulls(effects, 120, Looking.ALL, generator)]
    check = check_yellowing(known)
    assert check is not None
    assert check.outcomes == 120
    assert 5 <= check.yellowed <= 115
    assert check.brier < check.brier_base_rate
    assert check.curve[0].observed < check.curve[-1].observed
    assert all(0 <= point.predicted <= 1 for point in check.curve)


def test_the_most_telling_photo_comes_first() -> None:
    model = learn_yellowing([])
    clean = (0.0, -3.0, 0.0, 0.0, 2.0, 1.0)
    signs = dict(zip(sign_priors().names, map(measured, clean), strict=True))
    sure = skull("clean", Signs(**signs))
    open_case, seen = skull("open", patches(0.2)), skull("seen", patches(0.2), WHITE)
    values = follow_up_values(model, [sure, seen, open_case], [10.0, 61.0, 10.0])
    assert values[0].name == "open"
    assert values[0].day == follow_up_rule().first_day
    later = {value.name: value for value in values}
    assert later["seen"].day == 61.0
    assert later["seen"].information_bits < 0.1 * later["open"].information_bits
    assert follow_up_values(model, [], []) == ()


def test_of_several_looks_the_last_tells_what_a_photo_still_would() -> None:
    model = learn_yellowing([])
    early, late = (Look(days=days, yellowed=False) for days in (35.0, 90.0))
    skulls = [skull("both", patches(0.2), early, late), skull("late", patches(0.2), late)]
    both, last = follow_up_values(model, skulls, [120.0, 120.0])
    assert both.information_bits == pytest.approx(last.information_bits)
    assert both.probability_yellow == pytest.approx(last.probability_yellow)


def test_information_never_exceeds_one_bit() -> None:
    values = follow_up_values(learn_yellowing([]), invented(30), [60.0] * 30)
    assert all(0 <= value.information_bits <= 1 for value in values)
    assert all(0 <= value.probability_yellow <= 1 for value in values)


def test_coverage_of_the_risk() -> None:
    """The quick version of the benchmark: few users, so only gross faults show."""
    found = score(Truth.PRIOR, Looking.ALL, count=30, users=6, test_skulls=20)
    assert 0.6 < found.coverage[1] <= 1.0
    assert abs(found.bias) < 0.1
    home = score(Truth.PRIOR, Looking.GREASY_GO_HOME, count=30, users=6, test_skulls=20)
    assert abs(home.bias) < 0.1


def test_chosen_photos_do_no_worse_than_any() -> None:
    chosen, anyone = (error_after_photos(4, 10, chosen=chosen) for chosen in (True, False))
    assert chosen < 1.15 * anyone


def test_a_factor_is_told_only_as_far_as_any_effect_is_known() -> None:
    greasy = Signs(residual_grease_share=Measured(value=1.0))
    (reason,) = yellowing_risk(learn_yellowing([]), skull("fox", greasy)).reasons
    assert reason.odds_factor > 20
    assert said(reason).endswith("(100%): raises the odds by a factor of more than 20")
